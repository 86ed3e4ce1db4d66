// Rules of the table, and of the programme's floods against it.
#include <algorithm>
#include <initializer_list>

#include "daemon/settings/checks.h"
#include "daemon/settings/value.h"

namespace neap::settings {
namespace {

// A fill may take this much longer than flow and volume say before the limit stops it: hoses silt
// up.
constexpr double kFillMargin = 1.2;

std::string litres(double value) { return format(Kind::volume, value); }
std::string time(Millis value) { return format_seconds(value.count() / 1000); }

bool all_sound(const Draft& d, std::initializer_list<std::string_view> paths) {
  return std::all_of(paths.begin(), paths.end(),
                     [&](std::string_view path) { return d.is_sound(path); });
}

bool pump_runs_in_soak(const TablePlan& table) {
  return table.drain_path != DrainPath::drain_valve;
}

Millis pump_time(const TablePlan& table, const FloodPlan& floods) {
  return table.fill_limit + (pump_runs_in_soak(table) ? floods.soak : Millis{0});
}

void check_volumes(const Draft& d, Report& report) {
  const TablePlan& t = d.plan.table;
  if (all_sound(d, {"table.flood_volume", "table.tray_capacity"}) &&
      t.flood_volume > t.tray_capacity)
    report.add(d.place_of("table.flood_volume"), "table.flood_volume",
               "flood_volume is " + litres(t.flood_volume.value) +
                   "; must be at most the tray_capacity of " + litres(t.tray_capacity.value),
               "a flood up to the standpipe's rim fits below the tray's rim: measure both again");
  if (all_sound(d, {"table.flood_volume", "table.reservoir_capacity", "table.reservoir_minimum"}) &&
      t.flood_volume + t.reservoir_minimum > t.reservoir_capacity)
    report.add(d.place_of("table.reservoir_minimum"), "table.reservoir_minimum",
               "reservoir_minimum and flood_volume are " +
                   litres((t.flood_volume + t.reservoir_minimum).value) +
                   " together; must be at most the reservoir_capacity of " +
                   litres(t.reservoir_capacity.value),
               "a full reservoir would be under its minimum within one flood: flood less or fit a "
               "larger reservoir");
  if (!all_sound(d, {"table.fill_limit", "table.flood_volume", "table.pump_flow"})) return;
  const double nominal_s = t.flood_volume.value / t.pump_l_per_h * 3600;
  if (static_cast<double>(t.fill_limit.count()) < nominal_s * kFillMargin * 1000)
    report.add(d.place_of("table.fill_limit"), "table.fill_limit",
               "fill_limit is " + time(t.fill_limit) + "; " + litres(t.flood_volume.value) +
                   " at " + format(Kind::flow, t.pump_l_per_h) + " take " +
                   format_seconds(static_cast<std::int64_t>(nominal_s)) +
                   ", so it must be at least " +
                   format_seconds(static_cast<std::int64_t>(nominal_s * kFillMargin) + 1),
               "a limit under 1.2 times the nominal fill stops sound floods");
}

void check_budget_order(const Draft& d, Report& report) {
  const TablePlan& t = d.plan.table;
  if (all_sound(d, {"table.pump_budget.per_flood", "table.pump_budget.per_hour"}) &&
      t.max_on_per_hour < t.max_on_per_flood)
    report.add(d.place_of("table.pump_budget.per_hour"), "table.pump_budget.per_hour",
               "per_hour is " + time(t.max_on_per_hour) + "; must be at least the per_flood of " +
                   time(t.max_on_per_flood),
               "no flood could use what per_flood grants it");
  if (all_sound(d, {"table.pump_budget.per_hour", "table.pump_budget.per_day"}) &&
      t.max_on_per_day < t.max_on_per_hour)
    report.add(d.place_of("table.pump_budget.per_day"), "table.pump_budget.per_day",
               "per_day is " + time(t.max_on_per_day) + "; must be at least the per_hour of " +
                   time(t.max_on_per_hour),
               "a day holds more than its busiest hour");
}

std::vector<std::int64_t> busiest_by_demand(const StagePlan& stage) {
  std::vector<std::int64_t> starts;
  const FloodPlan& floods = stage.floods;
  const std::int64_t apart = floods.no_sooner.count() / 1000;
  const std::int64_t last = std::min<std::int64_t>(
      stage.light_length_s - std::max(floods.last_before_s, 1), kSecondsPerDay - apart);
  if (apart <= 0) return starts;
  for (std::int64_t at = floods.first_after_s; at <= last; at += apart) starts.push_back(at);
  return starts;
}

// Starts of a day's floods as seconds after lights-on, in order.
std::vector<std::int64_t> starts_after_lights_on(const StagePlan& stage) {
  std::vector<std::int64_t> starts;
  const FloodPlan& floods = stage.floods;
  switch (floods.rule) {
    case SlotRule::none:
      break;
    case SlotRule::after_lights_on:
      starts.assign(floods.times_s.begin(), floods.times_s.end());
      break;
    case SlotRule::spread: {
      const std::int64_t span = stage.light_length_s - floods.first_after_s - floods.last_before_s;
      for (int i = 0; i < floods.count; ++i)
        starts.push_back(floods.first_after_s +
                         (floods.count > 1 ? span * i / (floods.count - 1) : 0));
      break;
    }
    case SlotRule::at_times:
      for (const auto at : floods.times_s)
        starts.push_back((at - stage.lights_on_s + kSecondsPerDay) % kSecondsPerDay);
      break;
    case SlotRule::by_demand:  // as many as the driest air can ask for
      starts = busiest_by_demand(stage);
      break;
  }
  std::sort(starts.begin(), starts.end());
  return starts;
}

std::string key_of(SlotRule rule) {
  switch (rule) {
    case SlotRule::none:
      return "floods";
    case SlotRule::after_lights_on:
      return "floods.after_lights_on";
    case SlotRule::spread:
      return "floods.spread";
    case SlotRule::at_times:
      return "floods.at";
    case SlotRule::by_demand:
      return "floods.no_sooner";
  }
  return "floods";
}

// first_after and last_before are for these.
bool has_margins(SlotRule rule) { return rule == SlotRule::spread || rule == SlotRule::by_demand; }

struct StageCheck {
  const Draft& draft;
  Report& report;
  const StagePlan& stage;
  std::string path;

  void add(std::string_view key, std::string message, std::string remedy) const {
    const std::string full = path + "." + std::string(key);
    report.add(draft.place_of(full), full, std::move(message), std::move(remedy));
  }
  bool sound(std::string_view key) const { return draft.is_sound(path + "." + std::string(key)); }
};

void check_within_light(const StageCheck& in, const std::vector<std::int64_t>& starts) {
  const FloodPlan& floods = in.stage.floods;
  const std::int64_t light = in.stage.light_length_s;
  if (has_margins(floods.rule) && floods.first_after_s + floods.last_before_s > light) {
    in.add(floods.rule == SlotRule::spread ? "floods.spread" : "floods.by_demand",
           "first_after and last_before are " +
               format_seconds(floods.first_after_s + floods.last_before_s) +
               " together; must fit into the " + format_seconds(light) + " of light",
           "shorten one of them");
    return;
  }
  for (const auto start : starts) {
    if (start < light) continue;
    const bool clock = floods.rule == SlotRule::at_times;
    in.add(key_of(floods.rule),
           "a flood " +
               (clock ? "at " +
                            format(Kind::clock, static_cast<double>((start + in.stage.lights_on_s) %
                                                                    kSecondsPerDay))
                      : format_seconds(start) + " after lights-on") +
               " is in the dark; must be within the " + format_seconds(light) + " of light",
           "roots take up little in the dark and the air cannot shed the moisture: move it into "
           "the light");
    return;
  }
}

void check_spacing(const StageCheck& in, const std::vector<std::int64_t>& starts) {
  const TablePlan& t = in.draft.plan.table;
  if (starts.empty() || !all_sound(in.draft, {"table.fill_limit", "table.drain_limit",
                                              "table.min_gap", "table.drain_path"}))
    return;
  const Millis cycle = longest_cycle(t, in.stage.floods);
  for (std::size_t i = 0; i < starts.size(); ++i) {
    const std::int64_t next = i + 1 < starts.size() ? starts[i + 1] : starts[0] + kSecondsPerDay;
    const std::int64_t apart = next - starts[i];
    if (seconds{apart} >= cycle) continue;
    in.add(key_of(in.stage.floods.rule),
           "two floods start " + format_seconds(apart) + " apart; must be at least " + time(cycle) +
               ": fill_limit " + time(t.fill_limit) + ", soak " + time(in.stage.floods.soak) +
               ", drain_limit " + time(t.drain_limit) + " and min_gap " + time(t.min_gap),
           "flood less often, or shorten one of the four");
    return;
  }
}

void check_pump_time(const StageCheck& in, std::size_t floods_a_day) {
  const TablePlan& t = in.draft.plan.table;
  if (!all_sound(in.draft, {"table.fill_limit", "table.drain_path"}) || !in.sound("floods.soak"))
    return;
  const Millis one = pump_time(t, in.stage.floods);
  const std::string sum = pump_runs_in_soak(t) ? "fill_limit and soak" : "fill_limit";
  if (in.draft.is_sound("table.pump_budget.per_flood") && one > t.max_on_per_flood)
    in.add("floods.soak",
           "a flood may need the pump for " + time(one) + " (" + sum +
               "); must be at most the per_flood of " + time(t.max_on_per_flood),
           "shorten the soak or raise table.pump_budget.per_flood");
  const Millis day = one * static_cast<std::int64_t>(floods_a_day);
  if (in.draft.is_sound("table.pump_budget.per_day") && day > t.max_on_per_day)
    in.add(key_of(in.stage.floods.rule),
           std::to_string(floods_a_day) + " floods may need the pump for " + time(day) +
               " a day (" + sum + "); must be at most the per_day of " + time(t.max_on_per_day),
           "flood less often, shorten the soak or raise table.pump_budget.per_day");
  if (in.draft.is_sound("table.soak_limit") && in.stage.floods.soak > t.soak_limit)
    in.add("floods.soak",
           "soak is " + time(in.stage.floods.soak) + "; must be at most the soak_limit of " +
               time(t.soak_limit),
           "roots need air: shorten the soak");
}

void check_depth(const StageCheck& in) {
  const FloodPlan& floods = in.stage.floods;
  if (!in.sound("floods.depth")) return;
  if (floods.depth == Depth::by_float && !in.draft.plan.points[Point::tray_full])
    in.add("floods.depth", "depth is float, but no sensor provides tray.full",
           "map the tray's level float to tray.full, or write a volume as depth");
  if (floods.depth == Depth::by_litres && in.draft.is_sound("table.flood_volume") &&
      floods.litres > in.draft.plan.table.flood_volume)
    in.add("floods.depth",
           "depth is " + litres(floods.litres.value) + "; must be at most the flood_volume of " +
               litres(in.draft.plan.table.flood_volume.value),
           "the standpipe returns what is over it: write float for a full flood");
}

void check_demand(const StageCheck& in) {
  const FloodPlan& floods = in.stage.floods;
  const bool by_demand = in.draft.given(in.path + ".floods.by_demand");
  for (const std::string_view key : {"no_sooner", "no_later"}) {
    const std::string full = "floods." + std::string(key);
    const bool given = in.draft.given(in.path + "." + full);
    if (given && !by_demand)
      in.add(full, std::string(key) + " goes with by_demand alone",
             "delete it, or write \"by_demand: 3 kPa h\" instead of the times");
    if (!given && by_demand)
      in.add("floods.by_demand",
             "by_demand has no " + std::string(key) + "; must have no_sooner and no_later",
             key == "no_sooner" ? "write the shortest time between two floods, such as \"2 h\""
                                : "write the longest time between two floods, such as \"5 h\"");
  }
  if (in.sound("floods.no_sooner") && in.sound("floods.no_later") &&
      floods.no_later < floods.no_sooner)
    in.add("floods.no_later",
           "no_later is " + time(floods.no_later) + "; must be at least the no_sooner of " +
               time(floods.no_sooner),
           "exchange the two, or make no_later longer");
}

void check_floods(const StageCheck& in) {
  const FloodPlan& floods = in.stage.floods;
  int rules = 0;
  for (const std::string_view key : {"spread", "after_lights_on", "at", "by_demand"})
    rules += static_cast<int>(in.draft.given(in.path + ".floods." + std::string(key)));
  if (rules != 1) {
    in.add("floods",
           rules == 0
               ? "floods has no time; must have one of spread, after_lights_on, at and by_demand"
               : "floods has several of spread, after_lights_on, at and by_demand; must have one",
           "write for example \"spread: 3\", or \"floods: none\"");
    return;
  }
  for (const std::string_view key : {"floods.first_after", "floods.last_before"})
    if (!has_margins(floods.rule) && in.draft.given(in.path + "." + std::string(key)))
      in.add(key, std::string(key.substr(7)) + " goes with spread and by_demand alone",
             "delete it, or write \"spread\" instead");
  check_demand(in);
  check_depth(in);
  const bool timed = floods.rule != SlotRule::by_demand || in.sound("floods.no_sooner");
  if (floods.rule == SlotRule::none || !timed) return;  // its times are reported already
  if (floods.times_s.size() > static_cast<std::size_t>(kMaxSlotsPerDay)) {
    in.add(key_of(floods.rule), "more than 48 floods a day; must be at most 48",
           "flood less often");
    return;
  }
  if (!in.sound("light") || (floods.rule == SlotRule::at_times && !in.sound("lights_on"))) return;
  const std::size_t problems = in.report.size();
  const auto starts = starts_after_lights_on(in.stage);
  check_within_light(in, starts);
  if (in.report.size() == problems) check_spacing(in, starts);
  check_pump_time(in, starts.size());
}

void check_bands(const StageCheck& in) {
  constexpr double kNarrowestVpd = 0.1;
  constexpr double kNarrowestAir = 2;
  for (const auto& [key, band] :
       {std::pair{"vpd_day", in.stage.vpd_day}, std::pair{"vpd_night", in.stage.vpd_night}})
    if (in.sound(key) && (band.high - band.low).value < kNarrowestVpd - 1e-9)
      in.add(key,
             std::string(key) + " is " + format_number(band.low.value) + ".." +
                 format(Kind::vpd_band, band.high.value) + "; must be at least 0.1 kPa wide",
             "sensors and air wander by more than that: widen it");
  if (in.sound("air") && (in.stage.air_highest - in.stage.air_lowest).value < kNarrowestAir)
    in.add("air", "air is a band narrower than 2 K; must be at least 2 K wide",
           "these are limits, not a target: widen them");
  if (in.sound("air") && in.draft.is_sound("tent.shed_light_above") &&
      in.draft.plan.climate.shed_above <= in.stage.air_highest)
    in.add("air",
           "air goes up to " + format(Kind::temperature, in.stage.air_highest.value) +
               "; must stay under the shed_light_above of " +
               format(Kind::temperature, in.draft.plan.climate.shed_above.value),
           "the light would be shed before the air is too warm: lower this or raise that");
}

void check_light(const StageCheck& in) {
  const auto& light = in.draft.plan.outputs[Output::light];
  if (!light) return;
  if (!light->variable && in.stage.light_ramp_s > 0)
    in.add("light_ramp", "light_ramp needs a light that dims",
           "delete it, or write \"variable: true\" under outputs.light");
  if (!light->variable && in.stage.light_level < kRunning)
    in.add("light_level", "light_level needs a light that dims",
           "delete it, or write \"variable: true\" under outputs.light");
  if (in.sound("light") && 2 * in.stage.light_ramp_s > in.stage.light_length_s)
    in.add("light_ramp",
           "light_ramp is " + format_seconds(in.stage.light_ramp_s) +
               "; twice that must fit into the " + format_seconds(in.stage.light_length_s) +
               " of light",
           "shorten the ramp");
}

void check_growing(const StageCheck& in) {
  for (const std::string_view key : {"lights_on", "light", "vpd_day", "vpd_night", "floods"})
    if (!in.draft.given(in.path + "." + std::string(key)))
      in.add(key, "stage " + in.stage.name + " has no " + std::string(key),
             key == "floods" ? "write its floods, or \"floods: none\""
                             : "only a fallow stage may leave it out");
  check_bands(in);
  check_light(in);
  const bool wants_floods = in.draft.given(in.path + ".floods") && !in.sound("floods");
  if (wants_floods) check_floods(in);
}

void check_fallow(const StageCheck& in) {
  for (const std::string_view key : {"lights_on", "light", "light_level", "light_ramp"})
    if (in.draft.given(in.path + "." + std::string(key)))
      in.add(key, "stage " + in.stage.name + " is fallow; it must not have " + std::string(key),
             "delete it: a fallow stage is dark");
  if (in.draft.given(in.path + ".floods") && !in.sound("floods"))
    in.add("floods", "stage " + in.stage.name + " is fallow; it must not have floods",
           "delete them, or write \"floods: none\"");
  check_bands(in);
}

}  // namespace

Millis longest_cycle(const TablePlan& table, const FloodPlan& floods) {
  return table.fill_limit + floods.soak + table.drain_limit + table.min_gap;
}

void check_table(const Draft& draft, Report& report) {
  check_volumes(draft, report);
  check_budget_order(draft, report);
}

void check_programme(const Draft& draft, Report& report) {
  const QuietHours& quiet = draft.plan.programme.quiet;
  if (all_sound(draft, {"programme.quiet_hours.from", "programme.quiet_hours.to"}) &&
      quiet.from_s == quiet.to_s)
    report.add(draft.place_of("programme.quiet_hours.to"), "programme.quiet_hours.to",
               "to is " + format(Kind::clock, quiet.to_s) + ", as is from; must differ",
               "delete quiet_hours if there are none");
  const auto& stages = draft.plan.programme.stages;
  for (std::size_t i = 0; i < stages.size(); ++i) {
    const std::size_t problems = report.size();
    const StageCheck in{draft, report, stages[i], draft.stage_paths[i]};
    const auto same = [&](const StagePlan& other) { return other.name == stages[i].name; };
    if (!stages[i].name.empty() &&
        std::any_of(stages.begin(), stages.begin() + static_cast<std::ptrdiff_t>(i), same))
      in.add("name", "a stage before this one is named " + stages[i].name + " already",
             "give each stage its own name");
    if (stages[i].fallow)
      check_fallow(in);
    else
      check_growing(in);
    if (report.size() == problems) check_quiet_hours(draft, i, report);
  }
}

}  // namespace neap::settings
