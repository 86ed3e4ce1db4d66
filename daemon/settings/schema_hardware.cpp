// Rows of outputs, sensors, calibration and the simulation.
#include <algorithm>
#include <array>

#include "daemon/core/limits.h"
#include "daemon/settings/schema.h"

namespace neap::settings {
namespace {

constexpr double kHour = 3600;
constexpr Millis kStartFor = seconds{2};  // common practice, no source
// Of the enable pulse, in ms: a choice. A shorter one would lose edges to a scan that takes its 50
// ms; a circuit that waits for three of a longer one would let the pump run on for longer than its
// lease of 3 s.
constexpr double kShortestPulse = 100;
constexpr double kLongestPulse = 1000;

void begin_output(Draft& d, std::string_view name) {
  const OutputInfo& output = *find_output(name);
  OutputPlan plan;
  plan.safe = output.safe;
  plan.fallback = output.safe;
  if (has_compressor(output.output)) {
    plan.min_on = limits::kCompressorMinOn;
    plan.min_off = limits::kCompressorMinOff;
    plan.starts_per_hour = limits::kCompressorStartsPerHour;
  }
  d.plan.outputs[output.output] = plan;
  d.output = &*d.plan.outputs[output.output];
  d.output_setup = &d.hardware.outputs.emplace_back();
  d.output_setup->output = output.output;
}

drivers::Params& pulse(Draft& d) { return *d.output_setup->enable_pulse; }

constexpr std::array kEnablePulseKeys{
    required(
        "chip", Kind::text, "pinctrl-bcm2711", std::nullopt,
        [](Draft& d, const Value& v) { pulse(d).set("chip", v.text); },
        "the GPIO chip's label, as with the driver gpio_relay"),
    optional(
        "device", Kind::text, "1-0020", std::nullopt,
        [](Draft& d, const Value& v) { pulse(d).set("device", v.text); },
        "tells twins of that label apart: a component of the device path"),
    required(
        "line", Kind::text, "GPIO13", std::nullopt,
        [](Draft& d, const Value& v) { pulse(d).set("line", v.text); },
        "the line's name, or its number on the chip; no other part may be on it"),
    defaulted(
        "period_ms", Kind::count, "200", Bounds{kShortestPulse, kLongestPulse},
        [](Draft& d, const Value& v) { pulse(d).set("period_ms", v.text); },
        "milliseconds of one high and one low; let the circuit hold for three of them, or more"),
};
constexpr Section kEnablePulseSection{"enable_pulse",
                                      kEnablePulseKeys,
                                      [](Draft& d, std::string_view) {
                                        d.output_setup->enable_pulse.emplace();
                                        pulse(d).set("active", "high");
                                      },
                                      nullptr,
                                      {}};

constexpr std::array kOutputKeys{
    required(
        "driver", Kind::word, "level_file", std::nullopt,
        [](Draft& d, const Value& v) {
          d.output->driver = v.text;
          d.output_setup->driver = v.text;
        },
        "who moves it; the drivers are listed at the end"),
    Key{"with",
        Kind::driver_params,
        Need::optional,
        {},
        std::nullopt,
        {},
        "the driver's parameters",
        nullptr,
        nullptr},
    defaulted(
        "variable", Kind::truth, "false", std::nullopt,
        [](Draft& d, const Value& v) { d.output->variable = v.truth(); },
        "fans and lights: true when any level between floor and ceiling may be asked"),
    optional(
        "safe", Kind::level, "running", Bounds{0, 1000},
        [](Draft& d, const Value& v) {
          d.output->safe = v.permille();
          d.output->fallback = d.output->safe;
        },
        "level that silence means; fans and lights only, the rest is fixed. Absent: fans "
        "running, light stopped"),
    defaulted(
        "floor", Kind::level, "0 %", Bounds{0, 1000},
        [](Draft& d, const Value& v) { d.output->floor = v.permille(); },
        "variable outputs: lowest level while it runs, under which a fan may stall"),
    choice(
        "hand", Need::optional, "neap", "another neap",
        [](Draft& d, const Value& v) { d.in_neaps_hand[d.output_setup->output] = v.index == 1; },
        "who drives it: neap, or a person or a timer while neap observes; absent: neap in mode "
        "control, another in mode observe"),
    defaulted(
        "ceiling", Kind::level, "100 %", Bounds{1, 1000},
        [](Draft& d, const Value& v) { d.output->ceiling = v.permille(); },
        "variable outputs: highest level"),
    defaulted(
        "quiet_ceiling", Kind::level, "100 %", Bounds{0, 1000},
        [](Draft& d, const Value& v) { d.output->quiet_ceiling = v.permille(); },
        "highest level in quiet hours; stopped: it does not start then. Limits of air come "
        "before quiet"),
    optional(
        "fallback", Kind::level, "40 %", Bounds{0, 1000},
        [](Draft& d, const Value& v) { d.output->fallback = v.permille(); },
        "level without a usable canopy reading; absent: the safe one"),
    defaulted(
        "slew", Kind::level_rate, "0 %/min", Bounds{0, 60000},
        [](Draft& d, const Value& v) { d.output->slew_per_min = v.whole(); },
        "variable outputs: fastest change; 0 %/min is at once"),
    optional(
        "start_level", Kind::level, "60 %", Bounds{1, 1000},
        [](Draft& d, const Value& v) {
          d.output->start_level = v.permille();
          if (d.output->start_for == Millis{0}) d.output->start_for = kStartFor;
        },
        "variable outputs: level of its first moments, so that a fan turns before it is slowed "
        "down; absent: the one asked for"),
    optional(
        "start_for", Kind::duration, "2 s", Bounds{1, 30},
        [](Draft& d, const Value& v) { d.output->start_for = v.millis(); },
        "how long start_level lasts; absent: 2 s"),
    optional(
        "min_on", Kind::duration, "5 min", Bounds{0, kHour},
        [](Draft& d, const Value& v) { d.output->min_on = v.millis(); },
        "once started it stays so, interlocks excepted; absent: none, dehumidifier and "
        "water_chiller "
        "5 min"),
    optional(
        "min_off", Kind::duration, "5 min", Bounds{0, kHour},
        [](Draft& d, const Value& v) { d.output->min_off = v.millis(); },
        "once stopped it stays so; absent: none, dehumidifier and water_chiller 5 min, for their "
        "compressors"),
    optional(
        "starts_per_hour", Kind::count, "6", Bounds{1, 60},
        [](Draft& d, const Value& v) { d.output->starts_per_hour = v.whole(); },
        "most starts in any 60 min; absent: any, dehumidifier and water_chiller 6"),
    optional(
        "rated_power", Kind::power, "120 W", Bounds{0.5, 10000},
        [](Draft& d, const Value& v) { d.rated_w[d.output_setup->output] = v.number; },
        "what its device takes at full level, from its label: the report estimates energy by it; "
        "absent: it is left out there"),
    group("enable_pulse", Kind::section, Need::optional, kEnablePulseSection,
          "the pump alone: a GPIO line that changes its level again and again while the pump runs "
          "and neapd lives, for a dead-man circuit in the pump's supply (config/wiring.md)"),
};

void begin_sensor(Draft& d, std::string_view name) {
  d.sensor = &d.hardware.sensors.emplace_back();
  d.sensor->name = std::string(name);
  d.freshness = {};
}

// A slow sensor's value lives three periods, half of them beyond doubt (D-013).
void end_sensor(Draft& d) {
  const Millis period = d.sensor->period;
  PointPlan plan;
  plan.period = period;
  plan.uncertain_after =
      d.freshness.uncertain_after.value_or(std::max(limits::kUncertainAfter, period * 3 / 2));
  plan.bad_after = d.freshness.bad_after.value_or(std::max(limits::kBadAfter, period * 3));
  plan.frozen_after = d.freshness.frozen_after.value_or(Millis{0});
  plan.on_rail = d.freshness.on_rail;
  for (const auto& use : d.sensor->uses) d.plan.points[use.point] = plan;
}

constexpr std::array kSensorKeys{
    required(
        "driver", Kind::word, "hwmon", std::nullopt,
        [](Draft& d, const Value& v) { d.sensor->driver = v.text; },
        "who reads it; the drivers are listed at the end"),
    Key{"with",
        Kind::driver_params,
        Need::optional,
        {},
        std::nullopt,
        {},
        "the driver's parameters",
        nullptr,
        nullptr},
    defaulted(
        "every", Kind::duration, "10 s", Bounds{1, 600},
        [](Draft& d, const Value& v) { d.sensor->period = v.millis(); },
        "how often it is read, leak probes and floats each 10 s at least; contacts with edges are "
        "read at once besides"),
    Key{"points",
        Kind::channel_points,
        Need::required,
        {},
        std::nullopt,
        {},
        "which point of neap each of the driver's channels is; each point once",
        nullptr,
        nullptr},
    optional(
        "uncertain_after", Kind::duration, "30 s", Bounds{1, 3600},
        [](Draft& d, const Value& v) { d.freshness.uncertain_after = v.millis(); },
        "age from which a value is held as uncertain; absent: 30 s, or 1.5 periods"),
    optional(
        "bad_after", Kind::duration, "60 s", Bounds{2, 7200},
        [](Draft& d, const Value& v) { d.freshness.bad_after = v.millis(); },
        "age from which there is no value, 60 s at most for leak probes and floats; absent: 60 s, "
        "or 3 periods"),
    optional(
        "frozen_after", Kind::duration, "30 min", Bounds{60, 86400},
        [](Draft& d, const Value& v) { d.freshness.frozen_after = v.millis(); },
        "the very same raw value for this long is a dead sensor; absent: never, as contacts "
        "and coarse sensors repeat themselves"),
    defaulted(
        "on_rail", Kind::truth, "false", std::nullopt,
        [](Draft& d, const Value& v) { d.freshness.on_rail = v.truth(); },
        "its supply is the output sensor_rail, which is cycled when it falls silent"),
};

constexpr std::array kCalibrationKeys{
    Key{"offsets",
        Kind::offsets,
        Need::optional,
        {},
        std::nullopt,
        {},
        "added to a point before it is judged, in the point's unit; a salt jar or a second "
        "instrument tells how much; that of solution.ph or solution.ec is left out while a "
        "calibration of the probe is in force",
        nullptr,
        nullptr},
    defaulted(
        "ph_every", Kind::duration, "30 d", Bounds{0, 400 * 86400.0},
        [](Draft& d, const Value& v) { d.plan.calibration.every[0] = v.millis(); },
        "a reminder so long after the pH probe was calibrated; 0 s: none (common practice, no "
        "source)"),
    defaulted(
        "ec_every", Kind::duration, "60 d", Bounds{0, 400 * 86400.0},
        [](Draft& d, const Value& v) { d.plan.calibration.every[1] = v.millis(); },
        "a reminder so long after the EC probe was calibrated; 0 s: none (common practice, no "
        "source)"),
    optional(
        "ec_compensation", Kind::percent, "1.9 %", Bounds{1, 3},
        [](Draft& d, const Value& v) { d.plan.calibration.ec_per_kelvin = v.number / 100; },
        "a kelvin: brings EC to 25 C by the solution's temperature; absent: the probe does so "
        "itself. Meters take 1.9 to 2.2 % (ISO 7888 by their manuals)"),
};

constexpr std::array kWeatherFileKeys{
    required(
        "path", Kind::text, "weather.csv", std::nullopt,
        [](Draft& d, const Value& v) { d.hardware.simulation->weather_csv = v.text; },
        "a table of hours with a header line; a relative path starts in this file's folder"),
    required(
        "time", Kind::text, "time", std::nullopt,
        [](Draft& d, const Value& v) { d.hardware.simulation->csv_time = v.text; },
        "name of the column with the time"),
    required(
        "temperature", Kind::text, "temperature_c", std::nullopt,
        [](Draft& d, const Value& v) { d.hardware.simulation->csv_temperature = v.text; },
        "name of the column with the temperature"),
    required(
        "humidity", Kind::text, "humidity_pct", std::nullopt,
        [](Draft& d, const Value& v) { d.hardware.simulation->csv_humidity = v.text; },
        "name of the column with the relative humidity"),
    choice(
        "of", Need::defaulted, "outdoor", "outdoor room",
        [](Draft& d, const Value& v) { d.hardware.simulation->csv_is_room = v.index == 1; },
        "where it was recorded"),
    optional(
        "start", Kind::text, "2013-06-01 00:00", std::nullopt,
        [](Draft& d, const Value& v) { d.hardware.simulation->csv_start = v.text; },
        "first row to use; absent: the first"),
};
constexpr Section kWeatherFileSection{"csv", kWeatherFileKeys, nullptr, nullptr, {}};

constexpr std::array kFaultKeys{
    required(
        "fault", Kind::word, "leak", std::nullopt,
        [](Draft& d, const Value& v) { d.hardware.simulation->faults.back().fault = v.text; },
        "what breaks; the faults are listed at the end"),
    required(
        "at", Kind::duration, "3 h", Bounds{0, 365 * 86400.0},
        [](Draft& d, const Value& v) { d.hardware.simulation->faults.back().at = v.millis(); },
        "after the start of the run"),
    optional(
        "lasts", Kind::duration, "10 min", Bounds{1, 365 * 86400.0},
        [](Draft& d, const Value& v) { d.hardware.simulation->faults.back().lasts = v.millis(); },
        "absent: for ever"),
    defaulted(
        "severity", Kind::number, "1", Bounds{0, 1},
        [](Draft& d, const Value& v) { d.hardware.simulation->faults.back().severity = v.number; },
        "how bad, from 0 to 1"),
};
constexpr Section kFaultSection{
    "a fault",
    kFaultKeys,
    [](Draft& d, std::string_view) { d.hardware.simulation->faults.emplace_back(); },
    nullptr,
    {}};

constexpr std::array kSimulationKeys{
    defaulted(
        "seed", Kind::count, "1", Bounds{0, 4294967295.0},
        [](Draft& d, const Value& v) {
          d.hardware.simulation->seed = static_cast<std::uint64_t>(v.number);
        },
        "same seed, same run"),
    choice(
        "weather", Need::defaulted, "synthetic", "synthetic csv",
        [](Draft& d, const Value& v) { d.hardware.simulation->weather = v.text; },
        "weather around the room: made up, or a recorded table"),
    group("csv", Kind::section, Need::optional, kWeatherFileSection,
          "the recorded table of weather: csv"),
    Key{"parameters",
        Kind::plant_parameters,
        Need::optional,
        {},
        std::nullopt,
        {},
        "the simulated tent's own figures; they are listed at the end",
        nullptr,
        nullptr},
    group("faults", Kind::section_list, Need::optional, kFaultSection, "what breaks, and when"),
};

}  // namespace

const Section kOutputSection{"an output", kOutputKeys, begin_output, nullptr, {}};
const Section kSensorSection{"a sensor", kSensorKeys, begin_sensor, end_sensor, {}};
const Section kCalibrationSection{"calibration", kCalibrationKeys, nullptr, nullptr, {}};
const Section kSimulationSection{
    "simulation",
    kSimulationKeys,
    [](Draft& d, std::string_view) { d.hardware.simulation.emplace(); },
    nullptr,
    {}};

}  // namespace neap::settings
