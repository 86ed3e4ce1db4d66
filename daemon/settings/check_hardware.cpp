// Rules of outputs and sensors: pins, points, and what needs what.
#include <algorithm>
#include <array>
#include <filesystem>
#include <map>

#include "daemon/core/limits.h"
#include "daemon/settings/checks.h"
#include "daemon/settings/value.h"
#include "drivers/driver.h"
#include "drivers/simulated/faults.h"
#include "drivers/simulated/parameters.h"

namespace neap::settings {
namespace {

struct OutputCheck {
  const Draft& draft;
  Report& report;
  const OutputPlan& plan;
  const OutputInfo& output;

  std::string path(std::string_view key) const {
    return "outputs." + std::string(output.name) + "." + std::string(key);
  }
  void add(std::string_view key, std::string message, std::string remedy) const {
    report.add(draft.place_of(path(key)), path(key), std::move(message), std::move(remedy));
  }
  bool given(std::string_view key) const { return draft.given(path(key)); }
};

std::string level(Permille value) { return format(Kind::level, value.value); }

const drivers::OutputSetup* setup_of(const OutputCheck& in) {
  for (const auto& setup : in.draft.hardware.outputs)
    if (setup.output == in.output.output) return &setup;
  return nullptr;
}

void check_variable(const OutputCheck& in) {
  const std::string name(in.output.name);
  const auto* driver = drivers::find_output_driver(in.plan.driver);
  if (in.plan.variable && !in.output.may_be_variable) {
    in.add("variable", name + " is running or stopped; it must not be variable",
           "delete the line: fans and light alone may be");
    return;
  }
  if (in.plan.variable && driver != nullptr && !driver->variable)
    in.add(
        "variable",
        "variable is true, but the driver " + in.plan.driver + " knows running and stopped alone",
        "delete the line, or choose another driver");
  // A driver that serves both kinds has a parameter of that name.
  const auto* setup = setup_of(in);
  if (in.plan.variable && setup != nullptr && setup->params.scalars().contains("variable") &&
      !setup->params.truth("variable"))
    in.add("variable", "variable is true, but the driver was told running and stopped alone",
           "write \"with: {..., variable: true}\" too, or delete the line");
  for (const std::string_view key : {"floor", "ceiling", "slew", "start_level", "start_for"})
    if (!in.plan.variable && in.given(key))
      in.add(key, std::string(key) + " goes with \"variable: true\" alone",
             "delete it, or make the output variable");
  for (const auto& [key, value] :
       {std::pair{"quiet_ceiling", in.plan.quiet_ceiling}, std::pair{"fallback", in.plan.fallback}})
    if (!in.plan.variable && in.given(key) && value != kStopped && value != kRunning)
      in.add(key, std::string(key) + " is " + level(value) + "; must be stopped or running",
             "a share of full level goes with \"variable: true\" alone");
}

void check_levels(const OutputCheck& in) {
  const OutputPlan& plan = in.plan;
  if (in.output.safe_is_fixed && in.given("safe"))
    in.add("safe",
           "the safe state of " + std::string(in.output.name) + " is " +
               std::string(in.output.safe == kRunning ? in.output.running_word
                                                      : in.output.stopped_word) +
               " and must stay so",
           "delete the line");
  if (!plan.variable) return;
  if (in.given("start_for") && !in.given("start_level"))
    in.add("start_for", "start_for says how long start_level lasts, and there is none",
           "add start_level, or delete the line");
  if (in.given("start_level") && (plan.start_level < plan.floor || plan.start_level > plan.ceiling))
    in.add("start_level",
           "start_level is " + level(plan.start_level) + "; must be from the floor of " +
               level(plan.floor) + " to the ceiling of " + level(plan.ceiling),
           "between them is where the output may run at all");
  if (plan.floor > plan.ceiling)
    in.add(
        "floor",
        "floor is " + level(plan.floor) + "; must be at most the ceiling of " + level(plan.ceiling),
        "swap them, or widen the range");
  if (plan.quiet_ceiling != kStopped && plan.quiet_ceiling < plan.floor)
    in.add("quiet_ceiling",
           "quiet_ceiling is " + level(plan.quiet_ceiling) +
               "; must be stopped or at least the "
               "floor of " +
               level(plan.floor),
           "under its floor a fan may stall");
}

void check_water_dwell(const OutputCheck& in) {
  if (!moves_water(in.output.output)) return;
  for (const std::string_view key : {"min_on", "min_off", "starts_per_hour"})
    if (in.given(key))
      in.add(key,
             std::string(key) + " does not go with " + std::string(in.output.name) +
                 ": water stops when it must",
             "delete the line; table.pump_budget and table.min_gap bound the pump");
}

void check_compressor(const OutputCheck& in) {
  if (!has_compressor(in.output.output)) return;
  const bool dryer = in.output.output == Output::dehumidifier;
  if (dryer && in.draft.plan.climate.dehumidifier_kind == DehumidifierKind::peltier) return;
  for (const auto& [key, value] :
       {std::pair{"min_on", in.plan.min_on}, std::pair{"min_off", in.plan.min_off}})
    if (in.given(key) && value < limits::kCompressorMinFloor)
      in.add(key,
             std::string(key) + " is " + format_seconds(value.count() / 1000) +
                 "; must be at least 2 min for a " + std::string(in.output.title),
             std::string("a compressor started against its own pressure stalls and burns out") +
                 (dryer ? "; for a Peltier write climate.dehumidifier_kind: peltier" : ""));
}

// What a driver itself knows to be wrong with its parameters.
template <class Info>
void check_with_driver(const Draft& d, Report& report, const Info& driver,
                       const drivers::Params& params, const std::string& path) {
  if (driver.check == nullptr || !d.is_sound(path + ".driver")) return;
  const std::string wrong = driver.check(params);
  if (wrong.empty()) return;
  report.add(d.place_of(path + ".with"), path + ".with", wrong,
             "config/reference.yaml says what the driver " + std::string(driver.name) + " takes");
}

// Two outputs on one pin, or one file.
void check_resources(const Draft& d, Report& report) {
  std::map<std::string, std::string> users;
  for (const auto& setup : d.hardware.outputs) {
    const auto* driver = drivers::find_output_driver(setup.driver);
    const std::string name(info(setup.output).name);
    if (driver == nullptr || !d.is_sound("outputs." + name + ".driver")) continue;
    check_with_driver(d, report, *driver, setup.params, "outputs." + name);
    const std::string resource = driver->resource(setup.params, setup.output);
    if (resource.empty()) continue;
    const auto [first, fresh] = users.emplace(resource, name);
    if (!fresh)
      report.add(d.place_of("outputs." + name + ".with"), "outputs." + name + ".with",
                 name + " uses " + resource + ", as " + first->second + " does; must be its own",
                 "give one of the two another address");
  }
}

void check_points(const Draft& d, Report& report) {
  std::map<Point, std::string> providers;
  for (const auto& sensor : d.hardware.sensors) {
    const auto* driver = drivers::find_sensor_driver(sensor.driver);
    if (driver == nullptr) continue;
    const std::string path = "sensors." + sensor.name;
    check_with_driver(d, report, *driver, sensor.params, path);
    if (d.is_sound(path + ".every") && sensor.period < driver->fastest_period)
      report.add(d.place_of(path + ".every"), path + ".every",
                 "every is " + format_seconds(sensor.period.count() / 1000) + "; the driver " +
                     sensor.driver + " can be read at most every " +
                     format_number(static_cast<double>(driver->fastest_period.count()) / 1000) +
                     " s",
                 "read it less often");
    for (const auto& use : sensor.uses) {
      const auto& channel = driver->channels[static_cast<std::size_t>(use.channel)];
      const std::string use_path = path + ".points." + std::string(channel.name);
      const PointInfo& point = info(use.point);
      if (channel.unit != point.unit)
        report.add(d.place_of(use_path), use_path,
                   std::string(channel.name) + " of " + sensor.driver + " is in " +
                       (channel.unit.empty() ? "contacts" : std::string(channel.unit)) + "; " +
                       std::string(point.name) + " must be in " +
                       (point.unit.empty() ? "contacts" : std::string(point.unit)),
                   "map it to a point of its own kind");
      const auto [first, fresh] = providers.emplace(use.point, sensor.name);
      if (!fresh)
        report.add(d.place_of(use_path), use_path,
                   std::string(point.name) + " is provided by " + first->second +
                       " already; must have one source",
                   "map one of the two to another point, such as canopy_b");
    }
  }
}

void check_ages(const Draft& d, Report& report) {
  for (const auto& sensor : d.hardware.sensors) {
    const std::string path = "sensors." + sensor.name;
    if (sensor.uses.empty()) continue;
    const auto& plan = d.plan.points[sensor.uses.front().point];
    if (!plan || plan->period != sensor.period) continue;
    if (plan->uncertain_after < plan->period)
      report.add(d.place_of(path + ".uncertain_after"), path + ".uncertain_after",
                 "uncertain_after is " + format_seconds(plan->uncertain_after.count() / 1000) +
                     "; must be at least the period of " +
                     format_seconds(plan->period.count() / 1000),
                 "each value would be uncertain before the next one comes");
    if (plan->bad_after < plan->uncertain_after)
      report.add(d.place_of(path + ".bad_after"), path + ".bad_after",
                 "bad_after is " + format_seconds(plan->bad_after.count() / 1000) +
                     "; must be at least uncertain_after, " +
                     format_seconds(plan->uncertain_after.count() / 1000),
                 "a value is held as uncertain before it is dropped");
  }
}

bool guards_the_pump(Point point) {
  return info(point).kind == PointKind::contact && point != Point::bucket_full &&
         point != Point::air_pump_running && point != Point::button_pressed;
}

// A probe that is seldom read is blind to a burst hose for as long.
void check_water_contacts(const Draft& d, Report& report) {
  for (const auto& sensor : d.hardware.sensors) {
    const auto use = std::find_if(sensor.uses.begin(), sensor.uses.end(),
                                  [](const auto& u) { return guards_the_pump(u.point); });
    if (use == sensor.uses.end()) continue;
    const std::string path = "sensors." + sensor.name;
    const auto refuse = [&](const std::string& key, Millis value, Millis most, const char* remedy) {
      if (!d.is_sound(path + "." + key) || value <= most) return false;
      report.add(d.place_of(path + "." + key), path + "." + key,
                 key + " is " + format_seconds(value.count() / 1000) + "; must be at most " +
                     format_seconds(most.count() / 1000) + " for " +
                     std::string(info(use->point).name) + ", which stops the pump",
                 remedy);
      return true;
    };
    const auto& plan = d.plan.points[use->point];
    if (refuse("every", sensor.period, limits::kWaterContactEvery,
               "read it more often, or by a sensor of its own") ||
        !plan)
      continue;
    refuse("bad_after", plan->bad_after, limits::kWaterContactAge,
           "delete bad_after: a dead probe must not pass for a dry one");
  }
}

bool has(const Draft& d, Point point) { return d.plan.points[point].has_value(); }

void check_water_hardware(const Draft& d, Report& report) {
  const bool floods =
      std::any_of(d.plan.programme.stages.begin(), d.plan.programme.stages.end(),
                  [](const StagePlan& stage) { return stage.floods.rule != SlotRule::none; });
  const bool pump = d.plan.outputs[Output::pump].has_value();
  if (floods && !pump)
    report.add(d.place_of("outputs"), "outputs.pump", "the programme floods, but there is no pump",
               "add the output \"pump\", or write \"floods: none\" in every stage");
  const bool leak_probe =
      has(d, Point::leak_floor) || has(d, Point::leak_rack) || has(d, Point::leak_reservoir);
  if (pump && !leak_probe)
    report.add(d.place_of("sensors"), "sensors",
               "no sensor provides leak.floor, leak.rack or leak.reservoir; a pump must have a "
               "leak probe",
               "fit one on the floor at the lowest place: nothing else sees water leave");
  if (pump && !has(d, Point::reservoir_level) && !has(d, Point::reservoir_low))
    report.add(d.place_of("sensors"), "sensors",
               "no sensor provides reservoir.level or reservoir.low; a pump must have one of them",
               "fit a low float: a pump that runs dry burns out");
  const bool valve = d.plan.outputs[Output::drain_valve].has_value();
  if (!d.is_sound("table.drain_path")) return;
  const bool by_valve = d.plan.table.drain_path == DrainPath::drain_valve;
  if (by_valve && !valve)
    report.add(d.place_of("table.drain_path"), "table.drain_path",
               "drain_path is drain_valve, but there is no output of that name",
               "add the output \"drain_valve\", or name the path the water really takes");
  if (!by_valve && valve)
    report.add(d.place_of("outputs.drain_valve"), "outputs.drain_valve",
               "there is a drain_valve, but drain_path is not drain_valve",
               "write \"drain_path: drain_valve\", or delete the output");
}

// A weld of either contact has to show while the other one is still there to open.
void check_second_contact(const Draft& d, Report& report) {
  if (!d.plan.outputs[Output::pump_series]) return;
  const std::string path = "outputs.pump_series";
  if (!d.plan.outputs[Output::pump])
    report.add(d.place_of(path), path, "there is a pump_series, but no output pump",
               "add the output \"pump\", its first contact, or delete pump_series");
  const auto& proof = d.plan.points[Point::pump_running];
  if (!proof)
    report.add(d.place_of(path), path,
               "no sensor provides pump.running; a second contact must have the pump's proof",
               "fit a current, pressure or flow switch: without it both weld unseen, one by one");
  else if (proof->period > limits::kContactProofEvery)
    report.add(d.place_of(path), path,
               "pump.running is read every " + format_seconds(proof->period.count() / 1000) +
                   "; must be every " + format_seconds(limits::kContactProofEvery.count() / 1000) +
                   " with a second contact",
               "write \"every: 1 s\" at its sensor: a weld is looked for in 4 s");
}

void check_sensor_rail(const Draft& d, Report& report) {
  const bool rail = d.plan.outputs[Output::sensor_rail].has_value();
  bool used = false;
  for (const auto& sensor : d.hardware.sensors) {
    const bool on_rail = std::any_of(sensor.uses.begin(), sensor.uses.end(), [&](const auto& use) {
      return d.plan.points[use.point] && d.plan.points[use.point]->on_rail;
    });
    used = used || on_rail;
    const std::string path = "sensors." + sensor.name + ".on_rail";
    if (on_rail && !rail)
      report.add(d.place_of(path), path, "on_rail is true, but there is no output sensor_rail",
                 "add the output \"sensor_rail\", or delete the line");
  }
  if (rail && !used)
    report.add(d.place_of("outputs.sensor_rail"), "outputs.sensor_rail",
               "there is a sensor_rail, but no sensor is on it",
               "write \"on_rail: true\" at the sensors whose supply it is, or delete the output");
}

void check_air_hardware(const Draft& d, Report& report) {
  const bool air = has(d, Point::canopy_temperature) && has(d, Point::canopy_humidity);
  for (const Output output : {Output::dehumidifier, Output::humidifier}) {
    const std::string path = "outputs." + std::string(info(output).name);
    if (!air && d.plan.outputs[output])
      report.add(d.place_of(path), path,
                 "the " + std::string(info(output).title) +
                     " needs canopy.temperature and canopy.humidity, which no sensor provides",
                 "map a sensor over the plants to them");
  }
  const bool leaf = d.is_sound("tent.vpd_of") && d.plan.climate.band_of == BandOf::leaf;
  if (leaf && !has(d, Point::leaf_temperature) && !d.plan.climate.leaf_offset_set)
    report.add(d.place_of("tent.vpd_of"), "tent.vpd_of",
               "vpd_of is leaf, but nothing tells the leaf's temperature",
               "map a sensor to leaf.temperature, or write leaf_offset");
}

// A simulated driver reads a tent that only a simulation has.
void check_simulated_drivers(const Draft& d, Report& report) {
  if (d.hardware.simulation || d.given("simulation")) return;
  const auto tell = [&](const std::string& path, const std::string& driver) {
    report.add(d.place_of(path), path, "driver is " + driver + ", but there is no group simulation",
               "add \"simulation: {seed: 1}\", or name the driver of a real part");
  };
  for (const auto& setup : d.hardware.outputs) {
    const auto* driver = drivers::find_output_driver(setup.driver);
    if (driver != nullptr && driver->simulated)
      tell("outputs." + std::string(info(setup.output).name) + ".driver", setup.driver);
  }
  for (const auto& sensor : d.hardware.sensors) {
    const auto* driver = drivers::find_sensor_driver(sensor.driver);
    if (driver != nullptr && driver->simulated)
      tell("sensors." + sensor.name + ".driver", sensor.driver);
  }
}

void check_faults(const Draft& d, Report& report) {
  std::vector<std::string_view> known;
  for (const auto& row : drivers::simulated::kTentFaults) known.push_back(row.name);
  const auto& faults = d.hardware.simulation->faults;
  for (std::size_t i = 0; i < faults.size(); ++i) {
    const std::string path = "simulation.faults[" + std::to_string(i + 1) + "].fault";
    if (!d.is_sound(path) || std::find(known.begin(), known.end(), faults[i].fault) != known.end())
      continue;
    const std::string near = nearest(faults[i].fault, known);
    report.add(d.place_of(path), path,
               "the simulated tent has no fault " + in_quotes(faults[i].fault),
               near.empty() ? "config/reference.yaml lists those it has"
                            : "did you mean " + in_quotes(near) + "?");
  }
}

}  // namespace

void check_hardware(const Draft& draft, Report& report) {
  for (const auto& output : kOutputs) {
    const auto& plan = draft.plan.outputs[output.output];
    if (!plan) continue;
    const OutputCheck in{draft, report, *plan, output};
    check_variable(in);
    check_levels(in);
    check_water_dwell(in);
    check_compressor(in);
  }
  check_resources(draft, report);
  check_points(draft, report);
  check_ages(draft, report);
  check_water_contacts(draft, report);
  check_water_hardware(draft, report);
  check_second_contact(draft, report);
  check_sensor_rail(draft, report);
  check_button(draft, report);
  check_air_hardware(draft, report);
  check_tempered_water(draft, report);
  check_simulated_drivers(draft, report);
}

void check_simulation(const Draft& draft, Report& report) {
  if (!draft.hardware.simulation) return;
  const auto& simulation = *draft.hardware.simulation;
  check_faults(draft, report);
  const bool csv = simulation.weather == "csv";
  if (csv != draft.given("simulation.csv"))
    report.add(draft.place_of("simulation.weather"), "simulation.weather",
               csv ? "weather is csv, but the group csv is missing"
                   : "the group csv goes with \"weather: csv\" alone",
               csv ? "add the group csv with path and columns" : "write it, or delete the group");
  std::string error;
  drivers::simulated::parameters_from(simulation.parameters, error);
  constexpr std::string_view kPath = "simulation.parameters: ";
  if (error.starts_with(kPath)) error.erase(0, kPath.size());
  if (!error.empty())
    report.add(draft.place_of("simulation.parameters"), "simulation.parameters", error,
               "the parameters describe one tent: change either");
}

namespace {

constexpr const char* kZones = "/usr/share/zoneinfo";

bool is_shaped_as_zone(std::string_view zone) {
  return !zone.empty() && zone.front() != '/' && std::all_of(zone.begin(), zone.end(), [](char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '/' ||
           c == '_' || c == '-' || c == '+';
  });
}

}  // namespace

bool is_time_zone(std::string_view zone) {
  namespace fs = std::filesystem;
  std::error_code ignored;
  return is_shaped_as_zone(zone) && (zone == "UTC" || !fs::is_directory(kZones, ignored) ||
                                     fs::is_regular_file(fs::path(kZones) / zone, ignored));
}

void check_time_zone(const Draft& draft, Report& report) {
  namespace fs = std::filesystem;
  if (!draft.is_sound("time_zone")) return;
  const std::string& zone = draft.plan.time_zone;
  if (is_time_zone(zone)) return;
  std::error_code ignored;
  std::vector<std::string> names;
  const std::string region = zone.substr(0, zone.find('/'));
  if (is_shaped_as_zone(zone) && region != zone)
    for (const auto& entry : fs::directory_iterator(fs::path(kZones) / region, ignored))
      names.push_back(region + "/" + entry.path().filename().string());
  const std::vector<std::string_view> known(names.begin(), names.end());
  const std::string near = nearest(zone, known);
  report.add(draft.place_of("time_zone"), "time_zone",
             "time_zone is " + zone + "; must be a name of the zone database",
             near.empty() ? "write it as region and city: Europe/Brussels"
                          : "did you mean " + in_quotes(near) + "?");
}

}  // namespace neap::settings
