// Stories about the real neapd on a real kernel. Each check prints one line, `ok ...` or
// `FAIL ...`; the run script counts them, so that a story which is left out is seen.
#pragma once

#include <string>

namespace hardware {

void check(bool holds, const std::string& what);
void figure(const std::string& text);  // printed, not judged

// The settings of a small tent on `board`: the pump on chip `relays`, its floats on `floats`.
std::string settings(const std::string& relays, const std::string& floats,
                     const std::string& more_outputs = {}, const std::string& more_sensors = {});

// The rows of a probe over the plants, on the I2C bus of the chip models.
inline constexpr const char* kCanopyProbe = R"(
  canopy:
    driver: hwmon
    every: 2 s
    with: {chip: sht4x}
    points: {temperature: canopy.temperature, humidity: canopy.humidity}
)";

void relays_and_floats();  // trial.cpp
void chips_go_and_come_back();
void sensors_and_fans();         // bus_trial.cpp
void two_hundred_edges();        // edge_trial.cpp
void enable_pulse();             // pulse_trial.cpp
void scans_beside_a_hung_bus();  // jitter_trial.cpp
// Ends with the machine: the watchdog bites.
void watchdog();  // watchdog_trial.cpp

}  // namespace hardware
