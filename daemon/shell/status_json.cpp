#include "daemon/shell/status_json.h"

#include <algorithm>

#include "daemon/core/alarm_causes.h"
#include "daemon/core/budget.h"
#include "daemon/core/demand_clock.h"
#include "daemon/core/dwell.h"
#include "daemon/core/programme.h"
#include "daemon/core/roots.h"
#include "daemon/core/schedule.h"
#include "daemon/core/step_test.h"
#include "daemon/core/tally.h"
#include "daemon/shell/measurements.h"
#include "daemon/words/words.h"

namespace neap::shell {
namespace {

using nlohmann::json;

double seconds_of(Millis d) { return static_cast<double>(d.count()) / 1000; }

words::Style style_of(const Daemon& daemon) { return {daemon.loaded().plan.metric}; }

std::string_view binding_word(Binding binding) {
  switch (binding) {
    case Binding::nothing:
      return "nothing";
    case Binding::too_warm:
      return "too_warm";
    case Binding::too_humid:
      return "too_humid";
    case Binding::too_dry:
      return "too_dry";
    case Binding::no_reading:
      return "no_reading";
  }
  return "nothing";
}

json reading_json(Point point, const Reading<double>& reading, Instant now,
                  const words::Style& style) {
  json out = {{"point", info(point).name},
              {"title", info(point).title},
              {"unit", info(point).unit},
              {"quality", words::name(reading.quality())}};
  if (reading.usable()) {
    out["value"] = *reading;
    out["age_ms"] = (now - reading.taken()).count();
    out["text"] = words::value(point, *reading, style);
  } else {
    out["value"] = nullptr;
    out["fault"] = words::name(reading.fault());
  }
  return out;
}

template <class Q>
Reading<double> plain(const Reading<Q>& reading) {
  return reading.usable() ? Reading<double>::of(reading->value, reading.quality(), reading.taken())
                          : Reading<double>::absent(reading.fault());
}

json readings_json(const Daemon& daemon) {
  const State& state = daemon.state();
  const Plan& plan = daemon.loaded().plan;
  json list = json::array();
  const auto add = [&](Point point, const Reading<double>& reading) {
    list.push_back(reading_json(point, reading, daemon.now(), style_of(daemon)));
  };
  for (const PointInfo& row : kPoints)
    if (plan.points[row.point]) add(row.point, state.points[row.point].reading);
  if (plan.points[Point::canopy_temperature]) {
    add(Point::canopy_vpd, plain(state.canopy.vpd));
    if (state.canopy.leaf_vpd.usable()) add(Point::leaf_vpd, plain(state.canopy.leaf_vpd));
    add(Point::canopy_dew_point, plain(state.canopy.dew_point));
  }
  if (plan.points[Point::room_temperature]) {
    add(Point::room_vpd, plain(state.room.vpd));
    add(Point::room_dew_point, plain(state.room.dew_point));
  }
  return list;
}

std::string_view hand_word(const Daemon& daemon, Output output) {
  return in_another_hand(daemon.loaded().plan, output) ? "another" : "neap";
}

json outputs_json(const Daemon& daemon) {
  json list = json::array();
  for (const OutputInfo& row : kOutputs) {
    if (!daemon.loaded().plan.outputs[row.output]) continue;
    const Command& command = daemon.state().last.commands[row.output];
    list.push_back({{"output", row.name},
                    {"title", row.title},
                    {"level", command.level.value},
                    {"word", words::level(row.output, command.level)},
                    {"hand", hand_word(daemon, row.output)},
                    {"would_be", nullptr},
                    {"reason", because_json(command.because)}});
    if (in_another_hand(daemon.loaded().plan, row.output))
      list.back()["would_be"] = {{"word", words::level(row.output, command.wanted)},
                                 {"reason", because_json(command.wanted_because)}};
  }
  return list;
}

json stage_json(const Daemon& daemon, const CivilTime& civil) {
  const Plan& plan = daemon.loaded().plan;
  const Kept& kept = daemon.state().kept;
  const StagePlan& stage = stage_in_force(plan, daemon.state());
  const StageAdvice advice =
      advise_stage(plan.programme, kept.stage_index, kept.stage_entered_date, civil.date);
  return {{"name", stage.name},
          {"index", kept.stage_index},
          {"day", advice.day},
          {"days", stage.days},
          {"due", advice.due}};
}

json targets_json(const ClimateTargets& targets) {
  return {{"band_of", targets.band_of == BandOf::air ? "air" : "leaf"},
          {"low_kpa", targets.band.low.value},
          {"high_kpa", targets.band.high.value},
          {"air_lowest_c", targets.air_lowest.value},
          {"air_highest_c", targets.air_highest.value},
          {"humidity_ceiling", targets.humidity_ceiling.value}};
}

// Why the next flood would not start now, or nothing. While one is under way its own limits speak
// through the pump's verdict, and say nothing about the next.
Because next_flood_withheld(const Daemon& daemon) {
  const State& state = daemon.state();
  if (in_another_hand(daemon.loaded().plan, Output::pump)) return {};
  if (state.withheld.reason != Reason::none) return state.withheld;
  if (daemon.safe_mode()) return because(Reason::safe_mode);
  const bool under_way =
      state.flood.phase == FloodPhase::fill || state.flood.phase == FloodPhase::soak;
  const Verdict& pump = state.verdicts.of[Output::pump];
  if (!under_way && (pump.trip || pump.inhibit)) return pump.because;
  const Hold& held = state.holds[Output::pump];
  const bool held_off = held.active && held.level == kStopped;
  if (under_way) return {};
  if (held_off) return because(Reason::operator_hold);
  return unproven(daemon.loaded().plan.proofs, state.kept.proofs);
}

// Until when the roots can wait for water; null where no flood is planned.
json roots_json(const Daemon& daemon) {
  const Plan& plan = daemon.loaded().plan;
  const std::optional<Millis> left = roots_left(plan, daemon.state());
  if (!left) return nullptr;
  const RootsClock& roots = daemon.state().kept.roots;
  return {{"left_s", seconds_of(*left)},
          {"limit_s", seconds_of(roots_limit(plan, daemon.state()))},
          {"since_s", seconds_of(daemon.now() - instant(Millis{roots.since_tick}))},
          {"proven", roots.proven},
          {"in_want", roots_in_want(plan, daemon.state(), daemon.now())},
          {"reason", because_json(roots_because(plan, daemon.state(), daemon.now()))}};
}

// What a flood by demand waits for; null in a stage without.
json demand_json(const Daemon& daemon) {
  const auto outlook = demand_outlook(daemon.loaded().plan, daemon.state());
  if (!outlook) return nullptr;
  return {{"used_kpa_h", outlook->used_kpa_h},
          {"amount_kpa_h", outlook->amount_kpa_h},
          {"expected_second", outlook->expected.second_of_day},
          {"latest_second", outlook->latest.second_of_day},
          {"blind", outlook->blind}};
}

json flood_json(const Daemon& daemon, const CivilTime& civil) {
  const State& state = daemon.state();
  json out = {{"phase", words::name(state.flood.phase)},
              {"since_s", seconds_of(daemon.now() - state.flood.since)},
              {"hand", hand_word(daemon, Output::pump)},
              {"next", nullptr},
              {"withheld", nullptr}};
  if (const Because why = next_flood_withheld(daemon); why.reason != Reason::none)
    out["withheld"] = because_json(why);
  out["roots"] = roots_json(daemon);
  out["demand"] = demand_json(daemon);
  if (state.flood.phase == FloodPhase::idle) out["since_s"] = nullptr;
  if (const auto next = coming_slot(daemon.loaded().plan, state))
    out["next"] = {{"date", words::civil_date(next->id.date)},
                   {"number", next->id.number},
                   {"in_s", civil_seconds_between(civil, next->start)},
                   {"start_second", next->start.second_of_day},
                   {"moved", next->moved()}};
  return out;
}

struct ComingEvent {
  std::string text;
  std::int64_t in_s = 0;
};

// The nearest of next flood, lights-on and lights-off; none while the time of day is not known.
std::optional<ComingEvent> coming_event(const Daemon& daemon, const CivilTime& civil) {
  if (!time_is_known(daemon.state().last_wall)) return std::nullopt;
  const Plan& plan = daemon.loaded().plan;
  std::optional<ComingEvent> best;
  const auto consider = [&](const std::string& text, const CivilTime& at) {
    const std::int64_t in_s = civil_seconds_between(civil, at);
    if (in_s > 0 && (!best || in_s < best->in_s)) best = ComingEvent{text, in_s};
  };
  const StagePlan& stage = stage_in_force(plan, daemon.state());
  if (stage.light_length_s > 0 && stage.light_length_s < kSecondsPerDay) {
    const LightEdges edges = photoperiod_at(stage, civil);
    consider("lights on", edges.on);
    consider("lights on", {edges.on.date + 1, edges.on.second_of_day});
    consider("lights off", edges.off);
  }
  if (const auto next = coming_slot(plan, daemon.state()))
    consider((in_another_hand(plan, Output::pump) ? "neap's own flood " : "flood ") +
                 std::to_string(next->id.number),
             next->start);
  return best;
}

// One sentence for the first line of a screen: the worst raised alarm, else what keeps the band out
// of reach, else that all is well.
json verdict_json(const Daemon& daemon) {
  const AlarmTable& table = daemon.state().kept.alarms;
  const AlarmInfo* worst = nullptr;
  for (const AlarmInfo& row : kAlarms) {
    const bool raised = is_raised(table[static_cast<std::size_t>(row.alarm)]);
    if (raised && (worst == nullptr || row.priority > worst->priority)) worst = &row;
  }
  if (daemon.safe_mode())
    return {{"ok", false},
            {"text",
             !daemon.later().empty() ? "safe mode, a later neap wrote here: every output is safe"
             : daemon.without_disk() ? "safe mode, for nothing can be written: every output is safe"
                                     : "safe mode after repeated crashes: every output is safe"}};
  if (worst != nullptr)
    return {{"ok", worst->priority == Priority::advisory}, {"text", worst->title}};
  if (daemon.state().binding != Binding::nothing)
    return {{"ok", true}, {"text", words::sentence(daemon.state().diagnosis, style_of(daemon))}};
  const auto& vpd = banded_vpd(daemon.state());
  const Band& band = daemon.state().targets.band;
  if (vpd && (*vpd < band.low || *vpd > band.high))
    return {{"ok", true}, {"text", "no alarm; bringing VPD back into its band"}};
  return {{"ok", true}, {"text", "all is well"}};
}

json advice_json(const Daemon& daemon) {
  json list = json::array();
  if (!daemon.later().empty()) list.push_back(daemon.later());
  const AlarmTable& table = daemon.state().kept.alarms;
  for (const Alarm alarm : causes_first(table)) {
    if (!is_raised(table[static_cast<std::size_t>(alarm)])) continue;
    const auto root = root_cause(alarm, table);
    list.push_back(std::string(info(alarm).title) +
                   (root ? ", because of " + std::string(info(*root).name) : std::string()) + ": " +
                   std::string(info(alarm).remedy));
  }
  return list;
}

// What else would bring the band within reach.
json cures_json(const Daemon& daemon) {
  json list = json::array();
  for (const Because& cure : daemon.state().cures) list.push_back(because_json(cure));
  return list;
}

json holds_json(const Daemon& daemon) {
  json list = json::array();
  for (const OutputInfo& row : kOutputs) {
    const Hold& hold = daemon.state().holds[row.output];
    if (!hold.active) continue;
    list.push_back({{"output", row.name},
                    {"level", hold.level.value},
                    {"word", words::level(row.output, hold.level)},
                    {"left_s", seconds_of(hold.until - daemon.now())}});
  }
  return list;
}

json step_test_json(const Daemon& daemon) {
  const StepTest& test = daemon.state().step_test;
  if (!test.running) return nullptr;
  const StepTestView view = view_step_test(test, daemon.now());
  return {{"output", info(test.output).name},
          {"title", info(test.output).title},
          {"step", view.step},
          {"steps", view.steps},
          {"step_left_s", seconds_of(view.step_ends - daemon.now())},
          {"left_s", seconds_of(view.ends - daemon.now())}};
}

json budget_json(const Daemon& daemon) {
  const TablePlan& table = daemon.loaded().plan.table;
  PumpBudget copy = daemon.state().kept.budget;  // viewing forgets old hours
  const BudgetView view = view_budget(table, copy, daemon.now());
  return {{"hour_s", seconds_of(view.hour)},
          {"hour_limit_s", seconds_of(table.max_on_per_hour)},
          {"day_s", seconds_of(view.day)},
          {"day_limit_s", seconds_of(table.max_on_per_day)}};
}

}  // namespace

json because_json(const Because& because) {
  return {{"reason", info(because.reason).key},
          {"args", because.args},
          {"text", words::sentence(because)}};
}

json alarms_json(const Daemon& daemon, bool all) {
  json list = json::array();
  const AlarmTable& table = daemon.state().kept.alarms;
  for (const Alarm alarm : causes_first(table)) {
    const AlarmInfo& row = info(alarm);
    const AlarmRecord& record = table[static_cast<std::size_t>(alarm)];
    if (record.state == AlarmState::normal || (!all && !is_raised(record))) continue;
    list.push_back({{"alarm", row.name},
                    {"title", row.title},
                    {"state", words::name(record.state)},
                    {"priority", words::name(row.priority)},
                    {"since_s", seconds_of(daemon.now() - record.raised)},
                    {"remedy", row.remedy},
                    {"reason", because_json(record.because)}});
    if (const auto root = root_cause(alarm, table)) list.back()["follows"] = info(*root).name;
  }
  return list;
}

json latches_json(const Daemon& daemon) {
  json list = json::array();
  for (const LatchInfo& row : kLatches)
    if (daemon.state().kept.kernel.latched[static_cast<std::size_t>(row.latch)])
      list.push_back({{"latch", row.name}, {"title", row.title}});
  return list;
}

// The proof tests that these settings ask for, and how each stands.
json proofs_json(const Daemon& daemon) {
  const ProofPlan& plan = daemon.loaded().plan.proofs;
  const ProofRecords& records = daemon.state().kept.proofs;
  json list = json::array();
  for (const ProofTestInfo& row : kProofTests) {
    const auto i = static_cast<std::size_t>(row.test);
    if (!plan.hardware[i]) continue;
    json test = {{"test", row.name},
                 {"passed", is_proven(plan, records, row.test)},
                 {"at_unix_ms", nullptr}};
    if (records[i].done && records[i].dated) test["at_unix_ms"] = records[i].at_unix_ms;
    list.push_back(std::move(test));
  }
  return list;
}

json status_json(const Daemon& daemon) {
  const State& state = daemon.state();
  const Plan& plan = daemon.loaded().plan;
  const WallTime wall = daemon.wall();
  const CivilTime civil = civil_of(wall);
  json out = {{"name", plan.name},
              {"mode", plan.mode == Mode::control ? "control" : "observe"},
              {"tick", tick_ms(daemon.now())},
              {"unix_ms", wall.unix_ms},
              {"utc_offset_s", wall.utc_offset_s},
              {"time_quality", words::name(wall.quality)},
              {"display", plan.metric ? "metric" : "us"},
              {"safe_mode", daemon.safe_mode()},
              {"verdict", verdict_json(daemon)},
              {"stage", stage_json(daemon, civil)},
              {"day", state.day},
              {"targets", targets_json(state.targets)},
              {"readings", readings_json(daemon)},
              {"by_hand", by_hand_json(daemon)},
              {"outputs", outputs_json(daemon)},
              {"flood", flood_json(daemon, civil)},
              {"next_event", nullptr},
              {"advice", advice_json(daemon)},
              {"alarms", alarms_json(daemon, false)},
              {"latches", latches_json(daemon)},
              {"holds", holds_json(daemon)},
              {"service", nullptr},
              {"step_test", step_test_json(daemon)},
              {"budget", budget_json(daemon)},
              {"proofs", proofs_json(daemon)},
              {"binding", binding_word(state.binding)},
              {"diagnosis", because_json(state.diagnosis)},
              {"cures", cures_json(daemon)}};
  if (const auto next = coming_event(daemon, civil))
    out["next_event"] = {{"text", next->text}, {"in_s", next->in_s}};
  if (state.service) {
    const Millis left = std::max(state.service_until - daemon.now(), Millis{0});
    out["service"] = {{"left_s", seconds_of(left)}};
  }
  return out;
}

json why_json(const Daemon& daemon, Output output) {
  const State& state = daemon.state();
  const Command& command = state.last.commands[output];
  const Verdict& verdict = state.verdicts.of[output];
  const Dwell& dwell = state.kept.dwell[output];
  const auto& plan = daemon.loaded().plan.outputs[output];
  json out = {{"output", info(output).name},
              {"title", info(output).title},
              {"fitted", plan.has_value()},
              {"hand", hand_word(daemon, output)},
              {"level", command.level.value},
              {"word", words::level(output, command.level)},
              {"precedence", words::name(command.precedence)},
              {"reason", because_json(command.because)},
              {"wanted_level", command.wanted.value},
              {"wanted_word", words::level(output, command.wanted)},
              {"wanted_reason", because_json(command.wanted_because)},
              {"verdict",
               {{"trip", verdict.trip},
                {"inhibit", verdict.inhibit},
                {"cap", verdict.cap.value},
                {"reason", because_json(verdict.because)}}},
              {"lease_left_s", nullptr},
              {"latches", latches_json(daemon)},
              {"dwell", nullptr}};
  if (const auto until = daemon.gate().lease(output))
    out["lease_left_s"] = seconds_of(*until - daemon.now());
  if (plan)
    out["dwell"] = {{"since_s", seconds_of(daemon.now() - dwell.changed)},
                    {"min_on_s", seconds_of(plan->min_on)},
                    {"min_off_s", seconds_of(plan->min_off)}};
  if (output == Output::pump) {
    out["roots"] = roots_json(daemon);
    out["demand"] = demand_json(daemon);
  }
  if (output == Output::exhaust_fan || output == Output::dehumidifier ||
      output == Output::humidifier) {
    out["binding"] = binding_word(state.binding);
    out["diagnosis"] = because_json(state.diagnosis);
    out["cures"] = cures_json(daemon);
  }
  return out;
}

json problem_json(const settings::Problem& problem, const std::string& text) {
  return {{"line", problem.line},     {"column", problem.column},
          {"key", problem.key},       {"message", problem.message},
          {"remedy", problem.remedy}, {"text", settings::render("settings", text, problem)}};
}

}  // namespace neap::shell
