#include "daemon/core/operator.h"

#include <algorithm>

#include "daemon/core/button.h"
#include "daemon/core/limits.h"
#include "daemon/core/schedule.h"
#include "daemon/core/step_test.h"
#include "daemon/core/water_temperature.h"

namespace neap {
namespace {

Event answer(const Request& request, bool accepted, Because why) {
  Event event;
  event.kind = EventKind::request;
  event.request_id = request.id;
  event.accepted = accepted;
  event.because = why;
  event.output = request.output;
  event.level = request.level;
  event.alarm = request.alarm;
  event.latch = request.latch;
  event.number = static_cast<std::int32_t>(request.kind);
  return event;
}

constexpr Because kAccepted = because(Reason::request_accepted);

Because accepted_or(Because refusal) {
  return refusal.reason == Reason::none ? kAccepted : refusal;
}

// Why nobody may hold it so: the roots' air and the sensors' supply are nobody's to stop from afar,
// and the pump's second contact follows the pump.
Reason hold_refused(const Request& request) {
  const bool off = request.level == kStopped;
  if (request.output == Output::pump_series) return Reason::hold_pump_series;
  if (request.output == Output::air_pump && off) return Reason::hold_forbidden;
  if (request.output == Output::sensor_rail && off) return Reason::hold_sensor_rail;
  return Reason::none;
}

Because take_hold(const Plan& plan, State& state, const Request& request, Instant now) {
  const auto& fitted = plan.outputs[request.output];
  if (!fitted) return because(Reason::not_fitted);
  if (!fitted->driven) return because(Reason::observing);
  if (const Reason refused = hold_refused(request); refused != Reason::none)
    return because(refused);
  const Verdict& verdict = state.verdicts.of[request.output];
  const bool starts = request.level > kStopped;
  const bool starts_pump = starts && request.output == Output::pump;
  // What a trip makes dangerous is refused aloud; of the rest a hold waits for better times.
  const bool refusable = starts_pump || (starts && tempers_water(request.output));
  if (refusable && (verdict.trip || verdict.inhibit)) return verdict.because;
  if (starts && tempers_water(request.output))
    if (const Because waits = other_tempers(plan, state, request.output);
        waits.reason != Reason::none)
      return waits;
  Millis longest = limits::kHoldCeiling;
  if (starts_pump) longest = std::min(longest, plan.table.max_on_per_flood);
  const Millis asked =
      request.duration == Millis{0} ? std::min(limits::kHoldDefault, longest) : request.duration;
  if (asked < limits::kHoldFloor || asked > longest)
    return because(Reason::request_out_of_range, static_cast<double>(asked.count()) / 1000, 1,
                   static_cast<double>(longest.count()) / 1000);
  state.holds[request.output] = Hold{true, request.level, now + asked};
  return kAccepted;
}

Because begin_service(State& state, const Request& request, Instant now) {
  if (request.duration < limits::kServiceFloor || request.duration > limits::kServiceCeiling)
    return because(Reason::request_out_of_range,
                   static_cast<double>(request.duration.count()) / 1000,
                   static_cast<double>(limits::kServiceFloor.count()) / 1000,
                   static_cast<double>(limits::kServiceCeiling.count()) / 1000);
  state.service = true;
  state.service_overdue = false;
  state.service_until = now + request.duration;
  return kAccepted;
}

Event service_event(bool begun) {
  Event event;
  event.kind = EventKind::service;
  event.number = begun ? 1 : 0;
  return event;
}

void take_ack(State& state, const Request& request) {
  for (std::size_t i = 0; i < kAlarmCount; ++i)
    if (request.all || static_cast<Alarm>(i) == request.alarm) acknowledge(state.kept.alarms[i]);
}

// Alarms that speak for an interlock, or for a crop that wilts, cannot be put on the shelf.
bool may_shelve(Alarm alarm) { return info(alarm).priority < Priority::high; }

Because shelve(State& state, const Request& request, Instant now) {
  if (!may_shelve(request.alarm)) return because(Reason::shelve_forbidden);
  if (request.duration < limits::kHoldFloor || request.duration > limits::kShelveCeiling)
    return because(Reason::request_out_of_range,
                   static_cast<double>(request.duration.count()) / 1000, 1,
                   static_cast<double>(limits::kShelveCeiling.count()) / 1000);
  AlarmRecord& record = state.kept.alarms[static_cast<std::size_t>(request.alarm)];
  record.state = AlarmState::shelved;
  record.shelved_until = now + request.duration;
  return kAccepted;
}

// A probe must have been dry for a while: the last drop off a hose is not the end of a leak.
bool just_wet(const State& state, Instant now) {
  return std::any_of(state.leaks.begin(), state.leaks.end(), [&](const LeakWindow& window) {
    return window.last_wet > now - limits::kLeakDryHold;
  });
}

Because take_reset(State& state, const Request& request, Instant now, Events& events) {
  if (request.latch == Latch::leak && just_wet(state, now))
    return because(Reason::cause_persists, static_cast<double>(request.latch));
  const Because refusal = reset(state.kernel_inputs, state.kept.kernel, request.latch);
  if (refusal.reason != Reason::none) return refusal;
  // A person has looked at the pump and the hose: how long a fill takes is learnt anew.
  if (request.latch == Latch::fill_failed) {
    state.kept.flood_learnt.fill = Millis{0};
    state.kept.flood_learnt.fills = 0;
  }
  Event event;
  event.kind = EventKind::latch_reset;
  event.latch = request.latch;
  events.push(event);
  return kAccepted;
}

Because take_proof(const Plan& plan, State& state, const Request& request, Instant now,
                   Events& events) {
  const Because refusal = pass_proof_test(plan, state, request.proof, now);
  if (refusal.reason != Reason::none) return refusal;
  events.push(proof_event(request.proof));
  return kAccepted;
}

Because calibrate(const Plan& plan, State& state, const Request& request, Events& events) {
  const Because refusal = take_calibration(plan, state, request.fit);
  if (refusal.reason != Reason::none) return refusal;
  const auto kept = static_cast<std::size_t>(request.fit.probe);
  events.push(calibration_event(request.fit.probe, state.kept.calibrations[kept]));
  return kAccepted;
}

Because take_stage(const Plan& plan, State& state, const Request& request, Events& events) {
  if (request.number < 0 ||
      request.number >= static_cast<std::int32_t>(plan.programme.stages.size()))
    return because(Reason::request_unknown_target);
  if (!time_is_known(state.last_wall)) return because(Reason::time_not_known);
  enter_stage(plan, state, request.number, state.civil.date, events);
  return kAccepted;
}

// Carries out one request; a flood's start is left to the cycle.
void answer_one(const Plan& plan, State& state, const Request& request, bool safe_mode, Instant now,
                FloodWish& wish, Events& events) {
  Because result = kAccepted;
  switch (request.kind) {
    case RequestKind::flood_start:
      wish.start = true;
      wish.start_id = request.id;
      return;
    case RequestKind::flood_stop:
      wish.stop = flood_under_way(state);
      if (!wish.stop) result = because(Reason::flood_not_running);
      if (!drives(plan, Output::pump)) result = because(Reason::observing);
      break;
    case RequestKind::hold:
      result = take_hold(plan, state, request, now);
      break;
    case RequestKind::release:
      state.holds[request.output].active = false;
      break;
    case RequestKind::acknowledge:
      take_ack(state, request);
      break;
    case RequestKind::shelve:
      result = shelve(state, request, now);
      break;
    case RequestKind::reset_latch:
      result = take_reset(state, request, now, events);
      break;
    case RequestKind::service_begin:
      result = begin_service(state, request, now);
      if (result == kAccepted) events.push(service_event(true));
      break;
    case RequestKind::service_end:
      if (state.service) events.push(service_event(false));
      state.service = false;
      state.service_overdue = false;
      break;
    case RequestKind::enter_stage:
      result = take_stage(plan, state, request, events);
      break;
    case RequestKind::step_test_start:
      result = accepted_or(begin_step_test(plan, state, request.output, safe_mode, now, events));
      break;
    case RequestKind::step_test_stop:
      result = accepted_or(stop_step_test(state, events));
      break;
    case RequestKind::proof_test:
      result = take_proof(plan, state, request, now, events);
      break;
    case RequestKind::calibrate:
      result = calibrate(plan, state, request, events);
      break;
  }
  events.push(answer(request, result == kAccepted, result));
}

}  // namespace

FloodWish answer_requests(const Plan& plan, State& state, const Inputs& inputs, Instant now,
                          Events& events) {
  FloodWish wish;
  const auto answer_it = [&](const Request& request) {
    answer_one(plan, state, request, inputs.safe_mode, now, wish, events);
  };
  for (const Request& request : inputs.requests) answer_it(request);
  switch (follow_button(plan, state, now)) {
    case Press::none:
      break;
    case Press::brief:
      for (const Request& request : asked_by_brief_press(plan, state, now)) answer_it(request);
      break;
    case Press::held:
      if (!wish.start) answer_it({.kind = RequestKind::flood_start, .id = kButtonRequest});
      break;
  }
  return wish;
}

void answer_start(std::uint32_t id, bool started, Because why, Events& events) {
  Request request;
  request.kind = RequestKind::flood_start;
  request.id = id;
  events.push(answer(request, started, started ? kAccepted : why));
}

void expire_leases(State& state, Instant now, Events& events) {
  for (const OutputInfo& row : kOutputs) {
    Hold& hold = state.holds[row.output];
    if (!hold.active || now < hold.until) continue;
    hold.active = false;
    Event event;
    event.kind = EventKind::actuation;
    event.output = row.output;
    event.level = hold.level;
    event.because = because(Reason::operator_hold_expired);
    events.push(event);
  }
  if (state.service && now >= state.service_until) state.service_overdue = true;
}

void push_holds(const State& state, Demands& demands) {
  for (const OutputInfo& row : kOutputs) {
    const Hold& hold = state.holds[row.output];
    if (hold.active)
      demands.push(
          {row.output, hold.level, Precedence::operator_hold, because(Reason::operator_hold)});
  }
}

Instant next_lease_deadline(const State& state) {
  Instant next = Instant::max();
  for (const OutputInfo& row : kOutputs)
    if (state.holds[row.output].active) next = std::min(next, state.holds[row.output].until);
  if (state.service && !state.service_overdue) next = std::min(next, state.service_until);
  return next;
}

}  // namespace neap
