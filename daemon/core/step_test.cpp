#include "daemon/core/step_test.h"

#include <algorithm>
#include <array>

#include "daemon/core/climate.h"
#include "daemon/core/limits.h"
#include "daemon/core/programme.h"
#include "daemon/core/schedule.h"

namespace neap {
namespace {

// Steps after control.md 4.4: a tent answers the fan in 45 to 90 s, a compressor runs up in 150 s.
constexpr Millis kFanStep = minutes{10};
constexpr Millis kDryingStep = minutes{15};
constexpr int kFanSteps = 3;
constexpr int kDryingSteps = 4;
constexpr Permille kFanLow{300};
constexpr Permille kFanHigh{800};
constexpr Permille kFanWhileDrying{400};
// A smaller step drowns in what the air does by itself (common practice, no source).
constexpr int kLeastStep = 200;  // permille
// How long leaves and medium take to calm down after a light edge or a flood, and what the law has
// to itself before the next one (an assumption; a flood's vapour fades in about 25 min).
constexpr Millis kClearBefore = minutes{20};
constexpr Millis kClearAfter = minutes{10};
// Limits are kept at a distance: the test moves the air on purpose.
constexpr Celsius kNearTemperature{1.0};
constexpr PercentRh kNearHumidity{3.0};
constexpr Celsius kNearDewPoint{0.5};

constexpr Because kNothing{};

double seconds_in(Millis d) { return static_cast<double>(d.count()) / 1000; }

int steps_of(Output output) { return output == Output::exhaust_fan ? kFanSteps : kDryingSteps; }

// What the test moves or keeps still: nobody may hold one of these.
constexpr std::array kMoved{Output::exhaust_fan, Output::dehumidifier, Output::humidifier};

bool dries_tent(const Plan& plan) {
  return plan.outputs[Output::dehumidifier] &&
         plan.climate.dehumidifier_place == DehumidifierPlace::tent;
}

// --- what speaks against it ---------------------------------------------------------------------

Because lacks_outputs(const Plan& plan, Output output) {
  const auto& fan = plan.outputs[Output::exhaust_fan];
  if (!fan || !fan->variable) return because(Reason::step_test_fan_needed);
  for (const Output moved : kMoved)
    if (in_another_hand(plan, moved)) return because(Reason::observing);
  if (output == Output::exhaust_fan) return kNothing;
  if (!plan.outputs[Output::dehumidifier]) return because(Reason::not_fitted);
  return dries_tent(plan) ? kNothing : because(Reason::step_test_in_room);
}

bool has_light_edges(const StagePlan& stage) {
  return stage.light_length_s > 0 && stage.light_length_s < kSecondsPerDay;
}

Because wrong_time(const Plan& plan, const State& state, Output output) {
  if (!time_is_known(state.last_wall)) return because(Reason::time_not_known);
  if (stage_in_force(plan, state).fallow) return because(Reason::step_test_fallow);
  if (output == Output::exhaust_fan && !state.day) return because(Reason::step_test_by_day);
  if (output == Output::dehumidifier && state.day) return because(Reason::step_test_by_night);
  return kNothing;
}

// `needed`: until the test is over and the law has had its time.
Because light_changes(const Plan& plan, const State& state, Millis needed) {
  const StagePlan& stage = stage_in_force(plan, state);
  if (!has_light_edges(stage)) return kNothing;
  const LightEdges edges = photoperiod_at(stage, state.civil);
  const CivilTime next =
      state.day ? edges.off : CivilTime{edges.on.date + 1, edges.on.second_of_day};
  const seconds left{civil_seconds_between(state.civil, next)};
  if (left >= needed) return kNothing;
  return because(Reason::step_test_edge_near, seconds_in(left), seconds_in(needed));
}

Because flood_comes(const Plan& plan, const State& state, Millis needed) {
  const FloodState& flood = state.flood;
  if (flood.phase != FloodPhase::idle || flood.retry_pending || state.slot_due ||
      state.kept.catch_up_pending || state.last.commands[Output::pump].level > kStopped)
    return because(Reason::step_test_water_moves);
  const auto coming = coming_slot(plan, state);
  if (!coming) return kNothing;
  const seconds left{civil_seconds_between(state.civil, coming->start)};
  if (left >= needed) return kNothing;
  return because(Reason::step_test_flood_near, seconds_in(left), seconds_in(needed));
}

// A compressor that must be silent in quiet hours is not tested in them.
Because quiet_hours_touch(const Plan& plan, const State& state, Output output, Millis needed) {
  const QuietHours& quiet = plan.programme.quiet;
  if (output != Output::dehumidifier || !quiet.fitted ||
      plan.outputs[output]->quiet_ceiling > kStopped)
    return kNothing;
  const seconds until{(quiet.from_s - state.civil.second_of_day + kSecondsPerDay) % kSecondsPerDay};
  const bool touch = in_quiet_hours(quiet, state.civil.second_of_day) || until < needed;
  return touch ? because(Reason::quiet_hours) : kNothing;
}

Because hands_at_it(const State& state) {
  if (state.service) return because(Reason::service_holds);
  for (const Output output : kMoved)
    if (state.holds[output].active)
      return because(Reason::step_test_held, static_cast<double>(slot(output)));
  return kNothing;
}

Because air_near_limit(const Plan& plan, const State& state) {
  const Air& air = state.canopy;
  const ClimateTargets& targets = state.targets;
  if (!air.temperature || !air.humidity) return because(Reason::no_canopy_reading);
  if (*air.temperature > targets.air_highest - kNearTemperature)
    return because(Reason::step_test_warm, air.temperature->value, targets.air_highest.value);
  if (*air.temperature < targets.air_lowest + kNearTemperature)
    return because(Reason::step_test_cold, air.temperature->value, targets.air_lowest.value);
  if (*air.humidity > targets.humidity_ceiling - kNearHumidity)
    return because(Reason::step_test_humid, air.humidity->value, targets.humidity_ceiling.value);
  const auto margin = dew_point_margin(air, state.room);
  if (margin && *margin < plan.climate.dew_point_margin + kNearDewPoint)
    return because(Reason::condensation_near, margin->value);
  return kNothing;
}

bool stands(const AlarmRecord& record) {
  switch (record.state) {
    case AlarmState::unacknowledged:
    case AlarmState::acknowledged:
      return true;
    case AlarmState::shelved:  // silenced, not gone
      return record.condition;
    case AlarmState::normal:
    case AlarmState::returned:
    case AlarmState::suppressed:
      return false;
  }
  return false;
}

Because alarm_stands(const State& state) {
  for (const AlarmInfo& row : kAlarms) {
    const auto i = static_cast<std::size_t>(row.alarm);
    if (row.priority > Priority::advisory && stands(state.kept.alarms[i]))
      return because(Reason::step_test_alarm, static_cast<double>(i));
  }
  return kNothing;
}

// What speaks against a test of `output` that still lasts `left`; Reason::none when nothing does.
Because forbids(const Plan& plan, const State& state, Output output, bool safe_mode, Millis left) {
  const Millis needed = left + kClearAfter;
  if (safe_mode) return because(Reason::safe_mode);
  for (const auto& check : {lacks_outputs(plan, output), wrong_time(plan, state, output),
                            hands_at_it(state), air_near_limit(plan, state), alarm_stands(state),
                            flood_comes(plan, state, needed), light_changes(plan, state, needed)})
    if (check.reason != Reason::none) return check;
  return quiet_hours_touch(plan, state, output, left);
}

// What has just disturbed the air: a start alone waits for it.
Because disturbed_before(const Plan& plan, const State& state, Instant now) {
  const StagePlan& stage = stage_in_force(plan, state);
  if (has_light_edges(stage)) {
    const LightEdges edges = photoperiod_at(stage, state.civil);
    const seconds since{civil_seconds_between(state.day ? edges.on : edges.off, state.civil)};
    if (since < kClearBefore)
      return because(Reason::step_test_edge_past, seconds_in(since), seconds_in(kClearBefore));
  }
  const Millis dry = now - state.flood.last_ended;
  if (state.flood.any_ended && dry < kClearBefore)
    return because(Reason::step_test_flood_past, seconds_in(dry), seconds_in(kClearBefore));
  return kNothing;
}

// --- the sequence -------------------------------------------------------------------------------

// Quiet hours that begin in mid-test bind it from its start: its steps stay alike.
Permille within(const Plan& plan, const State& state, Permille level, Millis length) {
  const OutputPlan& fan = *plan.outputs[Output::exhaust_fan];
  const QuietHours& quiet = plan.programme.quiet;
  const seconds until{(quiet.from_s - state.civil.second_of_day + kSecondsPerDay) % kSecondsPerDay};
  const bool binds =
      quiet.fitted && (in_quiet_hours(quiet, state.civil.second_of_day) || until < length);
  const Permille ceiling = binds ? std::min(fan.ceiling, fan.quiet_ceiling) : fan.ceiling;
  return std::clamp(level, std::min(fan.floor, ceiling), ceiling);
}

StepTest planned(const Plan& plan, const State& state, Output output, Instant now) {
  StepTest test;
  test.running = true;
  test.output = output;
  test.began = now;
  const bool of_fan = output == Output::exhaust_fan;
  test.step = kFanStep;
  if (!of_fan) {
    const OutputPlan& dehumidifier = *plan.outputs[Output::dehumidifier];
    test.step = std::max({kDryingStep, dehumidifier.min_on, dehumidifier.min_off});
  }
  const Millis length = test.step * steps_of(output);
  test.fan_low = within(plan, state, of_fan ? kFanLow : kFanWhileDrying, length);
  test.fan_high = of_fan ? within(plan, state, kFanHigh, length) : test.fan_low;
  return test;
}

Event told(Output output, bool begun, Because why) {
  Event event;
  event.kind = EventKind::step_test;
  event.output = output;
  event.number = begun ? 1 : 0;
  event.because = why;
  return event;
}

void end(State& state, Because why, Events& events) {
  events.push(told(state.step_test.output, false, why));
  state.step_test.running = false;
  state.kept.step_test = false;
}

}  // namespace

StepTestView view_step_test(const StepTest& test, Instant now) {
  StepTestView view;
  view.steps = steps_of(test.output);
  view.step = std::clamp(static_cast<int>((now - test.began) / test.step) + 1, 1, view.steps);
  const bool second = view.step % 2 == 0;
  view.fan = second ? test.fan_high : test.fan_low;
  view.dehumidifier_runs = test.output == Output::dehumidifier && second;
  view.step_ends = test.began + test.step * view.step;
  view.ends = test.began + test.step * view.steps;
  return view;
}

Because begin_step_test(const Plan& plan, State& state, Output output, bool safe_mode, Instant now,
                        Events& events) {
  if (state.step_test.running) return because(Reason::step_test_running);
  if (output != Output::exhaust_fan && output != Output::dehumidifier)
    return because(Reason::request_unknown_target);
  if (const Because why = lacks_outputs(plan, output); why.reason != Reason::none) return why;
  const StepTest test = planned(plan, state, output, now);
  const Millis length = test.step * steps_of(output);
  for (const auto& why :
       {forbids(plan, state, output, safe_mode, length), disturbed_before(plan, state, now)})
    if (why.reason != Reason::none) return why;
  const bool of_fan = output == Output::exhaust_fan;
  if (of_fan ? test.fan_high.value - test.fan_low.value < kLeastStep : test.fan_low == kStopped)
    return because(Reason::step_test_narrow, test.fan_low.value / 10.0, test.fan_high.value / 10.0,
                   kLeastStep / 10.0);
  state.step_test = test;
  state.kept.step_test = true;
  state.kept.step_test_of = output;
  events.push(told(output, true, {}));
  return kNothing;
}

Because stop_step_test(State& state, Events& events) {
  if (!state.step_test.running) return because(Reason::step_test_not_running);
  end(state, because(Reason::step_test_stopped), events);
  return kNothing;
}

void ask_step_test(const Plan& plan, State& state, bool safe_mode, Instant now, Demands& demands,
                   Events& events) {
  const StepTest& test = state.step_test;
  if (!test.running) return;
  const StepTestView view = view_step_test(test, now);
  if (now >= view.ends) return end(state, because(Reason::step_test_done), events);
  const Because why = forbids(plan, state, test.output, safe_mode, view.ends - now);
  if (why.reason != Reason::none) return end(state, why, events);
  const auto ask = [&](Output output, Permille level) {
    if (plan.outputs[output])
      demands.push({output, level, Precedence::sequence,
                    because(Reason::step_test_step, view.step, view.steps)});
  };
  ask(Output::exhaust_fan, view.fan);
  ask(Output::humidifier, kStopped);
  if (dries_tent(plan)) ask(Output::dehumidifier, view.dehumidifier_runs ? kRunning : kStopped);
}

void close_step_test(State& state, Events& events) {
  if (!state.kept.step_test) return;
  state.step_test.output = state.kept.step_test_of;
  end(state, because(Reason::step_test_cut_off), events);
}

Instant next_step_test_deadline(const Plan& plan, const State& state, bool safe_mode, Instant now) {
  if (!state.step_test.running) return Instant::max();
  const StepTestView view = view_step_test(state.step_test, now);
  const Because why = forbids(plan, state, state.step_test.output, safe_mode, view.ends - now);
  return why.reason != Reason::none ? now + limits::kScanPeriod : view.step_ends;
}

}  // namespace neap
