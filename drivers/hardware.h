// The hardware that settings name: which driver serves which points and outputs. Made by the
// loader, used by the shell to open drivers and to write the output manifest.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/core/points.h"
#include "drivers/driver.h"

namespace neap::drivers {

struct ChannelUse {
  int channel = 0;  // index into the driver's channels
  Point point = Point::canopy_temperature;
};

struct SensorSetup {
  std::string name;  // key in settings
  std::string driver;
  Params params;
  Millis period{};
  std::vector<ChannelUse> uses;
};

struct OutputSetup {
  Output output = Output::pump;
  std::string driver;
  Params params;
  // The pump's alone: the line whose edges a dead-man circuit waits for, as the driver gpio_relay
  // takes it, and period_ms.
  std::optional<Params> enable_pulse{};
};

// The simulated tent as settings describe it: parameters by name, numbers in the unit of the name
// (drivers/simulated/parameters.h lists them with range and source), plus scripted faults.
struct ScriptedFault {
  std::string fault;
  Millis at{};     // after the start of the run
  Millis lasts{};  // 0 = for ever
  double severity = 1;
};
struct SimulationSetup {
  std::uint64_t seed = 1;
  std::string weather = "synthetic";  // or csv
  std::string weather_csv;            // path; columns named below
  std::string csv_time, csv_temperature, csv_humidity;
  bool csv_is_room = false;  // recorded in the room itself, not outdoors
  std::string csv_start;     // civil time of the first row to use
  std::map<std::string, double, std::less<>> parameters;
  std::vector<ScriptedFault> faults;
};

struct Hardware {
  std::vector<SensorSetup> sensors;
  std::vector<OutputSetup> outputs;
  std::optional<SimulationSetup> simulation;
};

}  // namespace neap::drivers
