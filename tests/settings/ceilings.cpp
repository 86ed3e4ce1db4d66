#include "tests/settings/ceilings.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <initializer_list>
#include <set>

#include "daemon/core/limits.h"
#include "daemon/core/programme.h"

namespace neap::settings {
namespace {

using drivers::Hardware;

bool within(double value, double low, double high) {
  return std::isfinite(value) && value >= low && value <= high;
}
bool within(Millis value, Millis low, Millis high) { return value >= low && value <= high; }
bool is_level(Permille level) { return level >= kStopped && level <= kRunning; }

bool runs_in_soak(const TablePlan& t) { return t.drain_path != DrainPath::drain_valve; }
Millis pump_time(const TablePlan& t, const FloodPlan& f) {
  return t.fill_limit + (runs_in_soak(t) ? f.soak : Millis{0});
}
std::int64_t floods_a_day(const StagePlan& stage) {
  const FloodPlan& f = stage.floods;
  if (f.rule == SlotRule::none) return 0;
  if (f.rule == SlotRule::by_demand)  // in the driest air, whole days of light apart
    return std::min<std::int64_t>(
               stage.light_length_s - f.first_after_s - std::max(f.last_before_s, 1),
               kSecondsPerDay - f.first_after_s - f.no_sooner.count() / 1000) *
               1000 / f.no_sooner.count() +
           1;
  return f.rule == SlotRule::spread ? f.count : static_cast<std::int64_t>(f.times_s.size());
}

struct TableCeiling {
  std::string_view name;
  bool (*holds)(const TablePlan&);
};
constexpr std::array kTable{
    TableCeiling{"no run of the pump is over an hour",
                 [](const TablePlan& t) {
                   return within(t.max_on_per_flood, Millis{1}, limits::kPumpRunCeiling);
                 }},
    TableCeiling{
        "an hour's budget holds a flood's and fits the hour",
        [](const TablePlan& t) { return within(t.max_on_per_hour, t.max_on_per_flood, hours{1}); }},
    TableCeiling{
        "a day's budget holds an hour's and half a day at most",
        [](const TablePlan& t) { return within(t.max_on_per_day, t.max_on_per_hour, hours{12}); }},
    TableCeiling{"floods an hour are few",
                 [](const TablePlan& t) {
                   return within(t.max_floods_per_hour, 1, limits::kFloodsPerHourCeiling);
                 }},
    TableCeiling{
        "a fill ends in half an hour",
        [](const TablePlan& t) { return within(t.fill_limit, Millis{1}, limits::kFillCeiling); }},
    TableCeiling{"a fill has the time that its water takes",
                 [](const TablePlan& t) {
                   return static_cast<double>(t.fill_limit.count()) / 3.6e6 * t.pump_l_per_h >=
                          t.flood_volume.value;
                 }},
    TableCeiling{
        "no soak is over an hour",
        [](const TablePlan& t) { return within(t.soak_limit, Millis{0}, limits::kSoakCeiling); }},
    TableCeiling{
        "a tray must be empty within two hours",
        [](const TablePlan& t) { return within(t.drain_limit, Millis{1}, limits::kDrainCeiling); }},
    TableCeiling{"floods keep a gap",
                 [](const TablePlan& t) { return t.min_gap >= limits::kMinGapFloor; }},
    TableCeiling{"a flood fits the tray",
                 [](const TablePlan& t) {
                   return within(t.tray_capacity.value, 0, 500) && t.flood_volume.value > 0 &&
                          t.flood_volume <= t.tray_capacity;
                 }},
    TableCeiling{"a full reservoir has a flood over its minimum",
                 [](const TablePlan& t) {
                   return within(t.reservoir_capacity.value, 0, 1000) &&
                          t.reservoir_minimum.value >= 0 &&
                          t.flood_volume + t.reservoir_minimum <= t.reservoir_capacity;
                 }},
    TableCeiling{"the pump's flow is a pump's",
                 [](const TablePlan& t) { return within(t.pump_l_per_h, 1, 10000); }},
    TableCeiling{"roots wait an hour at least and three days at most",
                 [](const TablePlan& t) {
                   return !t.dry_out ||
                          within(*t.dry_out, limits::kRootsFloor, limits::kRootsCeiling);
                 }},
};

struct ClimateCeiling {
  std::string_view name;
  bool (*holds)(const ClimatePlan&);
};
constexpr std::array kClimate{
    ClimateCeiling{"the light is shed before 45 C",
                   [](const ClimatePlan& c) { return within(c.shed_above.value, 20, 45); }},
    ClimateCeiling{"thresholds stand apart and within the band",
                   [](const ClimatePlan& c) {
                     return within(c.hysteresis, 0.05, 0.5) &&
                            within(c.drying_delay, Millis{0}, minutes{30});
                   }},
    ClimateCeiling{"margins are small",
                   [](const ClimatePlan& c) {
                     return within(c.dew_point_margin.value, 0, 10) &&
                            within(c.leaf_offset.value, -5, 5);
                   }},
    ClimateCeiling{"a tent and its devices have sizes",
                   [](const ClimatePlan& c) {
                     return within(c.tent_m3, 0.1, 50) && within(c.fan_m3_per_h, 10, 3000) &&
                            within(c.dehumidifier_g_per_h, 1, 2000) &&
                            within(c.humidifier_g_per_h, 1, 5000) && is_level(c.fixed_fan_level);
                   }},
};

bool slots_keep_apart(const Plan& plan, const StagePlan& stage) {
  FloodSlots today;
  FloodSlots tomorrow;
  slots_of(plan.programme, stage, plan.programme.start_date, today);
  slots_of(plan.programme, stage, plan.programme.start_date + 1, tomorrow);
  std::vector<CivilTime> starts;
  for (const auto& slot : today) starts.push_back(slot.start);
  for (const auto& slot : tomorrow) starts.push_back(slot.start);
  const TablePlan& t = plan.table;
  const Millis cycle = t.fill_limit + stage.floods.soak + t.drain_limit + t.min_gap;
  for (std::size_t i = 1; i < starts.size(); ++i)
    if (seconds{civil_seconds_between(starts[i - 1], starts[i])} < cycle) return false;
  return true;
}

bool slots_are_in_the_light(const Plan& plan, const StagePlan& stage) {
  FloodSlots slots;
  slots_of(plan.programme, stage, plan.programme.start_date, slots);
  return std::all_of(slots.begin(), slots.end(),
                     [&](const FloodSlot& slot) { return is_light(stage, slot.start); });
}

bool is_band(const Band& band) {
  return within(band.low.value, 0, 4) && within(band.high.value, 0, 4) && band.low < band.high;
}

struct StageCeiling {
  std::string_view name;
  bool (*holds)(const Plan&, const StagePlan&);
};
constexpr std::array kStages{
    StageCeiling{"no soak is over the soak limit",
                 [](const Plan& p, const StagePlan& s) {
                   return within(s.floods.soak, Millis{0}, p.table.soak_limit) ||
                          s.floods.rule == SlotRule::none;
                 }},
    StageCeiling{"a flood's pump time is in its budget",
                 [](const Plan& p, const StagePlan& s) {
                   return s.floods.rule == SlotRule::none ||
                          pump_time(p.table, s.floods) <= p.table.max_on_per_flood;
                 }},
    StageCeiling{"a day's pump time is in its budget",
                 [](const Plan& p, const StagePlan& s) {
                   return pump_time(p.table, s.floods) * floods_a_day(s) <= p.table.max_on_per_day;
                 }},
    StageCeiling{"a day has 48 floods at most",
                 [](const Plan&, const StagePlan& s) {
                   return floods_a_day(s) <= kMaxSlotsPerDay &&
                          (s.floods.rule == SlotRule::none || floods_a_day(s) > 0);
                 }},
    StageCeiling{"floods by demand have an amount and bounds in order",
                 [](const Plan& p, const StagePlan& s) {
                   const FloodPlan& f = s.floods;
                   return f.rule != SlotRule::by_demand ||
                          (within(f.demand_kpa_h, 0.1, 50) && f.no_sooner <= f.no_later &&
                           f.no_later <= hours{24} &&
                           f.no_sooner >=
                               p.table.fill_limit + f.soak + p.table.drain_limit + p.table.min_gap);
                 }},
    StageCeiling{"each flood ends before the next", slots_keep_apart},
    StageCeiling{"floods are in the light", slots_are_in_the_light},
    StageCeiling{"a depth fits under the standpipe",
                 [](const Plan& p, const StagePlan& s) {
                   return s.floods.depth == Depth::by_float ||
                          within(s.floods.litres.value, 0.1, p.table.flood_volume.value);
                 }},
    StageCeiling{"a flood by float has its float",
                 [](const Plan& p, const StagePlan& s) {
                   return s.floods.rule == SlotRule::none || s.floods.depth != Depth::by_float ||
                          p.points[Point::tray_full].has_value();
                 }},
    StageCeiling{"floods have a pump",
                 [](const Plan& p, const StagePlan& s) {
                   return s.floods.rule == SlotRule::none || p.outputs[Output::pump].has_value();
                 }},
    StageCeiling{"a fallow stage is dark and dry",
                 [](const Plan&, const StagePlan& s) {
                   return !s.fallow || (s.floods.rule == SlotRule::none && s.light_length_s == 0);
                 }},
    StageCeiling{"the light's day is a day",
                 [](const Plan&, const StagePlan& s) {
                   return within(s.lights_on_s, 0, kSecondsPerDay - 1) &&
                          within(s.light_length_s, s.fallow ? 0 : 3600, kSecondsPerDay) &&
                          2 * s.light_ramp_s <= s.light_length_s && is_level(s.light_level) &&
                          s.light_level > kStopped;
                 }},
    StageCeiling{"bands are bands",
                 [](const Plan&, const StagePlan& s) {
                   return is_band(s.vpd_day) && is_band(s.vpd_night) &&
                          within(s.humidity_ceiling.value, 40, 100);
                 }},
    StageCeiling{"the air's limits stay under the shedding of the light",
                 [](const Plan& p, const StagePlan& s) {
                   return within(s.air_lowest.value, 0, 45) && within(s.air_highest.value, 0, 45) &&
                          s.air_lowest < s.air_highest &&
                          (s.fallow || s.air_highest < p.climate.shed_above);
                 }},
};

bool is_water(Output o) { return o == Output::pump || o == Output::drain_valve; }

struct OutputCeiling {
  std::string_view name;
  bool (*holds)(const Plan&, const OutputInfo&, const OutputPlan&);
};
constexpr std::array kOfOutputs{
    OutputCeiling{"a fixed safe state stays",
                  [](const Plan&, const OutputInfo& o, const OutputPlan& p) {
                    return !o.safe_is_fixed || p.safe == o.safe;
                  }},
    OutputCeiling{"levels are levels",
                  [](const Plan&, const OutputInfo&, const OutputPlan& p) {
                    const auto levels = {p.safe, p.floor, p.ceiling, p.quiet_ceiling, p.fallback};
                    return std::all_of(levels.begin(), levels.end(), is_level) &&
                           p.floor <= p.ceiling && p.slew_per_min >= 0;
                  }},
    OutputCeiling{"what runs or stands takes no share",
                  [](const Plan&, const OutputInfo& o, const OutputPlan& p) {
                    const auto levels = {p.safe, p.quiet_ceiling, p.fallback};
                    const bool whole = std::all_of(
                        levels.begin(), levels.end(),
                        [](Permille level) { return level == kStopped || level == kRunning; });
                    return p.variable ? o.may_be_variable : whole;
                  }},
    OutputCeiling{"no dwell holds water",
                  [](const Plan&, const OutputInfo& o, const OutputPlan& p) {
                    return !is_water(o.output) ||
                           (p.min_on == Millis{0} && p.min_off == Millis{0} &&
                            p.starts_per_hour == 0);
                  }},
    OutputCeiling{"a compressor rests",
                  [](const Plan& plan, const OutputInfo& o, const OutputPlan& p) {
                    return o.output != Output::dehumidifier ||
                           plan.climate.dehumidifier_kind == DehumidifierKind::peltier ||
                           (p.min_on >= limits::kCompressorMinFloor &&
                            p.min_off >= limits::kCompressorMinFloor);
                  }},
    OutputCeiling{"a dwell ends within the hour",
                  [](const Plan&, const OutputInfo&, const OutputPlan& p) {
                    return within(p.min_on, Millis{0}, hours{1}) &&
                           within(p.min_off, Millis{0}, hours{1}) &&
                           within(p.starts_per_hour, 0, 60);
                  }},
};

bool stops_the_pump(Point point) {
  constexpr std::array kThese{Point::reservoir_low,  Point::tray_full,   Point::tray_high,
                              Point::tray_wet,       Point::leak_floor,  Point::leak_rack,
                              Point::leak_reservoir, Point::pump_running};
  return std::find(kThese.begin(), kThese.end(), point) != kThese.end();
}

struct PointCeiling {
  std::string_view name;
  bool (*holds)(const PointInfo&, const PointPlan&);
};
constexpr std::array kOfPoints{
    PointCeiling{"a value lives from doubt to loss",
                 [](const PointInfo&, const PointPlan& p) {
                   return p.period > Millis{0} && p.period <= p.uncertain_after &&
                          p.uncertain_after <= p.bad_after && p.bad_after <= hours{2} &&
                          p.frozen_after >= Millis{0};
                 }},
    PointCeiling{"what stops the pump is news",
                 [](const PointInfo& info, const PointPlan& p) {
                   return !stops_the_pump(info.point) || (p.period <= limits::kWaterContactEvery &&
                                                          p.bad_after <= limits::kWaterContactAge);
                 }},
    PointCeiling{"an offset corrects and does not make up",
                 [](const PointInfo& info, const PointPlan& p) {
                   const double most = (info.highest - info.lowest) / 5;
                   return within(p.offset, -most, most) &&
                          (info.kind != PointKind::contact || p.offset == 0);
                 }},
};

bool any_of(const Plan& plan, std::initializer_list<Point> points) {
  return std::any_of(points.begin(), points.end(),
                     [&](Point point) { return plan.points[point].has_value(); });
}

bool drivers_are_there(const Plan& plan, const Hardware& hw) {
  const auto planned = std::count_if(kOutputs.begin(), kOutputs.end(), [&](const OutputInfo& o) {
    return plan.outputs[o.output].has_value();
  });
  return static_cast<std::size_t>(planned) == hw.outputs.size() &&
         std::all_of(hw.outputs.begin(), hw.outputs.end(),
                     [&](const auto& setup) {
                       return plan.outputs[setup.output] &&
                              drivers::find_output_driver(setup.driver) != nullptr;
                     }) &&
         std::all_of(hw.sensors.begin(), hw.sensors.end(), [](const auto& setup) {
           return drivers::find_sensor_driver(setup.driver) != nullptr;
         });
}

bool no_two_outputs_share_a_wire(const Plan&, const Hardware& hw) {
  std::set<std::string> wires;
  for (const auto& setup : hw.outputs) {
    const auto* driver = drivers::find_output_driver(setup.driver);
    const std::string wire =
        driver == nullptr ? std::string{} : driver->resource(setup.params, setup.output);
    if (!wire.empty() && !wires.insert(wire).second) return false;
  }
  return true;
}

bool each_point_has_one_sensor(const Plan& plan, const Hardware& hw) {
  std::set<Point> provided;
  for (const auto& sensor : hw.sensors)
    for (const auto& use : sensor.uses)
      if (!provided.insert(use.point).second || !plan.points[use.point]) return false;
  return true;
}

bool simulated_drivers_have_a_tent(const Plan&, const Hardware& hw) {
  if (hw.simulation) return true;
  const auto is_simulated = [](const auto* driver) { return driver && driver->simulated; };
  return std::none_of(hw.outputs.begin(), hw.outputs.end(),
                      [&](const auto& setup) {
                        return is_simulated(drivers::find_output_driver(setup.driver));
                      }) &&
         std::none_of(hw.sensors.begin(), hw.sensors.end(), [&](const auto& setup) {
           return is_simulated(drivers::find_sensor_driver(setup.driver));
         });
}

struct WholeCeiling {
  std::string_view name;
  bool (*holds)(const Plan&, const Hardware&);
};
constexpr std::array kWhole{
    WholeCeiling{"a pump has a leak probe",
                 [](const Plan& p, const Hardware&) {
                   return !p.outputs[Output::pump] ||
                          any_of(p, {Point::leak_floor, Point::leak_rack, Point::leak_reservoir});
                 }},
    WholeCeiling{"a pump has a sensor of its reservoir",
                 [](const Plan& p, const Hardware&) {
                   return !p.outputs[Output::pump] ||
                          any_of(p, {Point::reservoir_level, Point::reservoir_low});
                 }},
    WholeCeiling{"a drain valve is the drain path, and the drain path is there",
                 [](const Plan& p, const Hardware&) {
                   return p.outputs[Output::drain_valve].has_value() ==
                          (p.table.drain_path == DrainPath::drain_valve);
                 }},
    WholeCeiling{"what dries or mists has the air's readings",
                 [](const Plan& p, const Hardware&) {
                   return (!p.outputs[Output::dehumidifier] && !p.outputs[Output::humidifier]) ||
                          (p.points[Point::canopy_temperature] && p.points[Point::canopy_humidity]);
                 }},
    WholeCeiling{"a programme has stages, each with its own name",
                 [](const Plan& p, const Hardware&) {
                   std::set<std::string> names;
                   for (const StagePlan& s : p.programme.stages) names.insert(s.name);
                   return !names.empty() && names.size() == p.programme.stages.size() &&
                          !names.contains("");
                 }},
    WholeCeiling{"a late slot is late by hours at most",
                 [](const Plan& p, const Hardware&) {
                   return within(p.programme.slot_grace_s, 60, 7200) &&
                          within(p.programme.catch_up_within_s, 0, 43200) &&
                          within(p.altitude_m, -400, 4000);
                 }},
    WholeCeiling{"every output and sensor has its driver", drivers_are_there},
    WholeCeiling{"no two outputs share a wire", no_two_outputs_share_a_wire},
    WholeCeiling{"each point has one sensor", each_point_has_one_sensor},
    WholeCeiling{"a simulated driver has a simulated tent", simulated_drivers_have_a_tent},
};

}  // namespace

std::vector<Breach> breaches(const Plan& plan, const Hardware& hardware) {
  std::vector<Breach> found;
  const auto judge = [&](const auto& rows, const std::string& where, const auto&... args) {
    for (const auto& row : rows)
      if (!row.holds(args...)) found.push_back({row.name, where});
  };
  judge(kTable, "", plan.table);
  judge(kClimate, "", plan.climate);
  judge(kWhole, "", plan, hardware);
  for (const StagePlan& stage : plan.programme.stages) judge(kStages, stage.name, plan, stage);
  for (const OutputInfo& output : kOutputs)
    if (const auto& of = plan.outputs[output.output])
      judge(kOfOutputs, std::string(output.name), plan, output, *of);
  for (const PointInfo& point : kPoints)
    if (const auto& of = plan.points[point.point])
      judge(kOfPoints, std::string(point.name), point, *of);
  return found;
}

std::vector<std::string_view> ceiling_names() {
  std::vector<std::string_view> names;
  const auto add = [&](const auto& rows) {
    for (const auto& row : rows) names.push_back(row.name);
  };
  add(kTable);
  add(kClimate);
  add(kWhole);
  add(kStages);
  add(kOfOutputs);
  add(kOfPoints);
  return names;
}

}  // namespace neap::settings
