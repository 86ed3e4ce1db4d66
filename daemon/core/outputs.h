// The outputs: everything neap can drive, listed once, each with the state that silence means.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "daemon/core/instant.h"
#include "daemon/core/units.h"

namespace neap {

enum class Output : std::uint8_t {
  pump = 0,
  drain_valve = 1,
  exhaust_fan = 2,
  circulation_fan = 3,
  dehumidifier = 4,
  humidifier = 5,
  light = 6,
  air_pump = 7,
  pump_series = 8,
  sensor_rail = 9,
  lamp = 10,
  buzzer = 11,
  water_heater = 12,
  water_chiller = 13,
};
constexpr std::size_t kOutputCount = 14;

// How an output that is on tells something. The gate makes the rhythm (D-034).
enum class Blink : std::uint8_t { steady = 0, slow = 1, fast = 2, tone = 3 };
struct BlinkRow {
  Blink blink;
  std::string_view name;
  Millis on;  // of each period; both 0: on for good
  Millis off;
};
// Slow and fast are within the two ranges that IEC 60073 keeps apart (0.4 to 0.8 and 1.4 to 2.8
// flashes a second; from memory), under the three a second that WCAG 2.3.1 forbids. The tone is a
// choice without a source.
inline constexpr std::array<BlinkRow, 4> kBlinks{{
    {Blink::steady, "steady", Millis{0}, Millis{0}},
    {Blink::slow, "slow", Millis{1000}, Millis{1000}},
    {Blink::fast, "fast", Millis{250}, Millis{250}},
    {Blink::tone, "tone", Millis{300}, Millis{4700}},
}};
constexpr const BlinkRow& info(Blink b) { return kBlinks[static_cast<std::size_t>(b)]; }

struct OutputInfo {
  Output output;
  std::string_view name;
  std::string_view title;
  std::string_view stopped_word;  // stopped; a valve: closed; a contact: open
  std::string_view running_word;  // running; a valve: open; a contact: closed
  Permille safe;         // default of the declared safe state; pump and humidifier are fixed
  bool safe_is_fixed;    // settings may not choose another safe state
  bool may_be_variable;  // fans and light may be modulated, the rest are two-position
};

// Why these: water stops moving, air keeps moving, roots keep breathing, sensors keep telling. The
// drain valve opens without power. The light is dark in safe state: a dark plant lives, an
// overheated one does not. The pump has current only through both of its contacts, where a second
// one is fitted. A dark lamp is the one that nobody drives. Water that nobody heats harms slower
// than a heater out of water.
inline constexpr std::array<OutputInfo, kOutputCount> kOutputs{{
    {Output::pump, "pump", "flood pump", "stopped", "running", kStopped, true, false},
    {Output::drain_valve, "drain_valve", "drain valve", "closed", "open", kRunning, true, false},
    {Output::exhaust_fan, "exhaust_fan", "exhaust fan", "stopped", "running", kRunning, false,
     true},
    {Output::circulation_fan, "circulation_fan", "circulation fan", "stopped", "running", kRunning,
     false, true},
    {Output::dehumidifier, "dehumidifier", "dehumidifier", "stopped", "running", kStopped, true,
     false},
    {Output::humidifier, "humidifier", "humidifier", "stopped", "running", kStopped, true, false},
    {Output::light, "light", "light", "stopped", "running", kStopped, false, true},
    {Output::air_pump, "air_pump", "air pump", "stopped", "running", kRunning, true, false},
    {Output::pump_series, "pump_series", "second contact of the pump", "open", "closed", kStopped,
     true, false},
    {Output::sensor_rail, "sensor_rail", "supply of the sensors", "off", "on", kRunning, true,
     false},
    {Output::lamp, "lamp", "lamp", "dark", "lit", kStopped, true, false},
    {Output::buzzer, "buzzer", "buzzer", "silent", "sounding", kStopped, true, false},
    {Output::water_heater, "water_heater", "water heater", "stopped", "running", kStopped, true,
     false},
    {Output::water_chiller, "water_chiller", "water chiller", "stopped", "running", kStopped, true,
     false},
}};

constexpr std::size_t slot(Output o) { return static_cast<std::size_t>(o); }
constexpr const OutputInfo& info(Output o) { return kOutputs[slot(o)]; }
constexpr const OutputInfo* find_output(std::string_view name) {
  for (const auto& row : kOutputs)
    if (row.name == name) return &row;
  return nullptr;
}

// What the pump's current goes through.
constexpr bool is_pump_contact(Output o) { return o == Output::pump || o == Output::pump_series; }
// Driven by water's own limits, never by a dwell.
constexpr bool moves_water(Output o) { return is_pump_contact(o) || o == Output::drain_valve; }

// What the climate laws ask for.
constexpr bool is_climate_device(Output o) {
  return o == Output::exhaust_fan || o == Output::dehumidifier || o == Output::humidifier;
}

// In the reservoir, by the solution's temperature (water_temperature.h).
constexpr bool tempers_water(Output o) {
  return o == Output::water_heater || o == Output::water_chiller;
}

// A compressor must rest between two starts.
constexpr bool has_compressor(Output o) {
  return o == Output::dehumidifier || o == Output::water_chiller;
}

// For the eye and the ear of whoever stands at the tent: no load, and nothing waits for it.
constexpr bool is_signal(Output o) { return o == Output::lamp || o == Output::buzzer; }

template <class T>
class PerOutput {  // one T an output
 public:
  T& operator[](Output o) { return items_[slot(o)]; }
  const T& operator[](Output o) const { return items_[slot(o)]; }

 private:
  std::array<T, kOutputCount> items_{};
};

}  // namespace neap
