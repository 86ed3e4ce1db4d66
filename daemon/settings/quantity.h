// Quantities as people write them: a plain decimal and a unit. One scheme everywhere: a quantity is
// text, a number and its unit ("90 s", "24.5 C", "0.5..0.9 kPa"); a count is a whole number; a
// level is stopped, running or a percentage; truth is true or false and nothing else. Only
// parameters of drivers and of the simulation are bare numbers: their names carry the unit.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace neap::settings {

// Base units in brackets: what Value::number and the bounds of a key are in.
enum class Kind : std::uint8_t {
  truth,
  text,  // printable, at most 128 characters
  word,  // a name of our own: lower case, digits, _ and -
  choice,
  count,                   // whole number
  number,                  // plain decimal without unit
  duration,                // [s], whole seconds
  temperature,             // [C]
  temperature_difference,  // [K]
  percent,                 // [%]
  level,                   // [permille]: stopped, running, 40 %
  level_rate,              // [permille a minute]
  volume,                  // [L]
  flow,                    // [L/h]
  air_flow,                // [m3/h]
  space,                   // [m3]
  height,                  // [m]
  length,                  // [mm]: bores, and what stands over a rim
  conductivity,            // [mS/cm] at 25 C
  dose,                    // [mL/L]: of a stock solution in water
  vpd_hours,               // [kPa h]: VPD over time
  power,                   // [W]
  clock,                   // [s of day]: "06:00"
  date,                    // [days since 1970-01-01]: 2026-03-02
  vpd_band,                // [kPa]: 0.5..0.9 kPa
  temperature_band,        // [C]
  ph_band,                 // [pH]
  ec_band,                 // [mS/cm]
  volume_band,             // [L]
  depth,                   // float, or [L]
  clocks,                  // list of clock
  durations,               // list of duration
  command,                 // list: an absolute path and its arguments
  // Not scalars:
  section,           // a group of keys
  section_list,      // a list of groups: stages, faults
  section_names,     // groups by a name of the person's choice: sensors
  section_outputs,   // groups by the name of an output
  driver_params,     // with: as the driver's table says
  channel_points,    // channel: point
  offsets,           // point: quantity in the point's unit
  plant_parameters,  // name: number, as the simulated tent's table says
};

struct Unit {
  std::string_view name;
  double factor;  // base = value * factor + offset
  double offset = 0;
};

struct KindInfo {
  Kind kind;
  std::string_view title;       // "a duration"
  std::string_view example;     // "6 min"
  std::span<const Unit> units;  // the first is the base unit as written; empty: no unit
  bool band = false;
};
const KindInfo& info(Kind kind);

struct Complaint {
  std::string message;  // value and rule
  std::string remedy;
};

// A plain decimal: no leading zero, no exponent, no hex, no underscore, no NaN. The complaint's
// message is the rule alone ("has a leading zero").
std::variant<double, Complaint> read_decimal(std::string_view text);

// One quantity in any of `units`, in the base unit. `name` stands at the front of the message.
std::variant<double, Complaint> read_quantity(std::string_view name, std::string_view text,
                                              std::span<const Unit> units,
                                              std::string_view example);

// Number and unit of a quantity, as far as the text can be split; either may be empty.
struct Split {
  std::string_view number;
  std::string_view unit;
};
Split split_quantity(std::string_view text);

std::string format_number(double value);              // shortest that reads back the same
std::string format(Kind kind, double base_value);     // "20 min", "0.8 kPa", "06:00"
std::string format_seconds(std::int64_t seconds);     // "90 s", "20 min", "2 h", "3 d"
std::string list_units(std::span<const Unit> units);  // "s, min, h or d"
std::string lower_case(std::string_view text);
std::string shown(std::string_view text);  // as messages quote it: cut when long

}  // namespace neap::settings
