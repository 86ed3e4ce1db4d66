#include "daemon/core/scan.h"

#include <algorithm>

#include "daemon/core/arbiter.h"
#include "daemon/core/asks.h"
#include "daemon/core/budget.h"
#include "daemon/core/button.h"
#include "daemon/core/conditions.h"
#include "daemon/core/demand_clock.h"
#include "daemon/core/denials.h"
#include "daemon/core/dwell.h"
#include "daemon/core/fan_speed.h"
#include "daemon/core/limits.h"
#include "daemon/core/operator.h"
#include "daemon/core/pump_contacts.h"
#include "daemon/core/rail.h"
#include "daemon/core/roots.h"
#include "daemon/core/schedule.h"
#include "daemon/core/sense.h"
#include "daemon/core/signal.h"
#include "daemon/core/step_test.h"
#include "daemon/core/supply.h"
#include "daemon/core/tally.h"
#include "daemon/core/watch.h"
#include "daemon/core/water_temperature.h"

namespace neap {
namespace {

void tell_latches(const KernelState& before, const KernelState& after, const Verdicts& verdicts,
                  Events& events) {
  for (const LatchInfo& row : kLatches) {
    const auto i = static_cast<std::size_t>(row.latch);
    if (before.latched[i] || !after.latched[i]) continue;
    Event event;
    event.kind = EventKind::latch_set;
    event.latch = row.latch;
    event.because = verdicts.of[Output::pump].because;
    events.push(event);
  }
}

// What could flood otherwise waits for its proof tests; a hold of the pump, by which they are made,
// does not.
void await_proofs(const Plan& plan, const State& state, Seen& seen) {
  const Because untested = unproven(plan.proofs, state.kept.proofs);
  seen.by_hand_permitted = seen.pump_permitted && parts_are_proven(plan.proofs, state.kept.proofs);
  if (!seen.pump_permitted || untested.reason == Reason::none) return;
  seen.pump_permitted = false;
  seen.withheld = untested;
}

// What a trip stopped, or might not start, starts by a person's word, not because the cause went
// away.
void end_tripped_holds(State& state) {
  for (const OutputInfo& row : kOutputs) {
    if (row.output != Output::pump && !tempers_water(row.output)) continue;
    const Verdict& verdict = state.verdicts.of[row.output];
    const bool stands = state.last.commands[row.output].level == kStopped;
    Hold& hold = state.holds[row.output];
    if ((verdict.trip || (verdict.inhibit && stands)) && hold.level > kStopped) hold = Hold{};
  }
}

void judge_outputs(const Plan& plan, State& state, const Inputs& inputs, Seen& seen,
                   Events& events) {
  const KernelState before = state.kept.kernel;
  judge(state.kernel_inputs, state.kept.kernel, state.verdicts);
  tell_latches(before, state.kept.kernel, state.verdicts, events);
  end_tripped_holds(state);
  const Verdict& pump = state.verdicts.of[Output::pump];
  const Hold& held = state.holds[Output::pump];
  const bool held_off = held.active && held.level == kStopped;
  const bool guarded = pump.trip || pump.inhibit;
  const bool tried = contacts_are_tried(state);
  seen.pump_permitted = !guarded && !inputs.safe_mode && !held_off && !tried;
  seen.withheld = inputs.safe_mode ? because(Reason::safe_mode)
                  : guarded        ? pump.because
                  : held_off       ? because(Reason::operator_hold)
                  : tried          ? because(Reason::contact_tried, number_of_tried(state))
                                   : pump.because;
  await_proofs(plan, state, seen);
}

// What the cycle found in this scan latches in this scan, so that a power cut in the next second
// does not forget it.
void latch_findings(const Plan& plan, State& state, const Inputs& inputs, Seen& seen,
                    Events& events) {
  KernelInputs& in = state.kernel_inputs;
  const FloodState& flood = state.flood;
  if (!flood.lost_water && !flood.fill_expired && !flood.drain_expired) return;
  in.lost_water = flood.lost_water;
  in.fill_expired = flood.fill_expired;
  in.drain_expired = flood.drain_expired;
  judge_outputs(plan, state, inputs, seen, events);
}

// Memory that changed by itself knows neither latches nor pump time: as with a lost state, every
// latch of either copy holds, the day is spent, and a person has to look.
void distrust_changed_memory(const Plan& plan, State& state, Instant now, Events& events) {
  const Shadow& shadow = state.shadow;
  Kept& kept = state.kept;
  if (!shadow.made || (shadow.kernel == kept.kernel && shadow.budget == kept.budget)) return;
  for (std::size_t i = 0; i < kLatchCount; ++i)
    kept.kernel.latched[i] = kept.kernel.latched[i] || shadow.kernel.latched[i];
  kept.kernel.latched[static_cast<std::size_t>(Latch::state_lost)] = true;
  kept.budget = spent_day(plan.table, now);
  Event event;
  event.kind = EventKind::latch_set;
  event.latch = Latch::state_lost;
  event.because = because(Reason::memory_changed);
  events.push(event);
}

// What the gate made of the last commands replaces them where they differ: what went to its safe
// state by itself did so now, and its dwell begins. The pump's start that waits for the card is
// none of these: the pump is as good as commanded, but its fill has not begun.
void take_driven(State& state, const Inputs& inputs, Instant now, Events& events) {
  for (const OutputInfo& row : kOutputs) {
    const std::optional<Driven>& driven = inputs.driven[row.output];
    Command& last = state.last.commands[row.output];
    if (!driven || driven->level == last.level) continue;
    const bool waits = inputs.pump_waits && is_pump_contact(row.output);
    if (waits) {
      if (state.flood.phase == FloodPhase::fill)
        state.flood.fill_started = state.flood.effect_from = now;
      state.echo.at = now;
      if (!inputs.unsaved) continue;
    }
    if ((last.level == kStopped) != (driven->level == kStopped))
      note_change(state.kept.dwell[row.output], driven->level > kStopped, now);
    last.level = driven->level;
    Event event;
    event.kind = EventKind::actuation;
    event.output = row.output;
    event.level = driven->level;
    event.because = because(waits ? Reason::state_unsaved : Reason::lease_lapsed);
    events.push(event);
  }
}

bool held_as_welded(const State& state) {
  return state.kept.kernel.latched[static_cast<std::size_t>(Latch::pump_welded)];
}

void watch_pump(const Plan& plan, State& state, const Inputs& inputs, Instant now) {
  if (in_another_hand(plan, Output::pump)) {  // it was told nothing that it could contradict
    const FloatSeen runs = float_seen(plan, state, Point::pump_running);
    state.pump_proof = PumpProof{};
    state.pump_proof.told_since = now;
    // A weld is over when the proof has said that the pump stands, whoever drives it.
    if (held_as_welded(state) && runs != FloatSeen::clear && runs != FloatSeen::not_fitted)
      state.pump_proof.seen = PumpSeen::welded;
    return;
  }
  const auto level = [&](Output contact) {
    const std::optional<Driven>& driven = inputs.driven[contact];
    return driven ? driven->level : state.last.commands[contact].level;
  };
  const PointWatch& running = state.points[Point::pump_running];
  const PointWatch& automatic = state.points[Point::pump_auto];
  const PumpSays says{.running = float_seen(plan, state, Point::pump_running),
                      .running_since = running.contact.since,
                      .running_taken = running.reading.taken(),
                      .automatic = float_seen(plan, state, Point::pump_auto),
                      .automatic_since = automatic.contact.since,
                      .automatic_taken = automatic.reading.taken()};
  state.pump_proof =
      judge_pump(state.pump_proof, pump_told(plan, level(Output::pump), level(Output::pump_series)),
                 plan.outputs[Output::pump_series].has_value(), says, now);
  // A proof that is silent, or was not asked for long enough since the start, ends no weld.
  const bool stands = says.running == FloatSeen::clear &&
                      says.running_taken - state.pump_proof.told_since >= kProofFollows;
  if (held_as_welded(state) && says.running != FloatSeen::not_fitted &&
      state.pump_proof.seen == PumpSeen::obeys && !stands)
    state.pump_proof.seen = PumpSeen::welded;
}

// A slow leak gets half a day's water, as long as the roots have more than half of their time.
bool spares_water(const Plan& plan, const State& state) {
  return slow_leak(state.kept.balance) && !roots_half_gone(plan, state);
}

bool proven_stopped(const Inputs& inputs, Output output) {
  const std::optional<Driven>& driven = inputs.driven[output];
  return !driven || driven->stopped();
}

// What another hand pumps is spent for whoever has the pump next.
void count_another_hand(const Plan& plan, State& state, bool flood_starts, Instant now) {
  const FloatSeen proof = float_seen(plan, state, Point::pump_running);
  const bool proven = proof == FloatSeen::clear || proof == FloatSeen::set;
  const bool pumps = proven ? proof == FloatSeen::set : another_hand_pumps(state.flood);
  PumpBudget& budget = state.kept.budget;
  if (pumps && !budget.run_open) open_run(budget, Millis{0}, flood_starts, now);
  extend_run(budget, now);
  if (!pumps) close_run(budget, now);
}

// A run is credited once the pump is proven stopped, each of its contacts; nobody's word is needed
// where nobody tells.
void settle_budget(const Plan& plan, State& state, const Inputs& inputs, const Seen& seen,
                   PumpTold told, bool flood_starts, Instant now) {
  PumpBudget& budget = state.kept.budget;
  if (in_another_hand(plan, Output::pump))
    return count_another_hand(plan, state, flood_starts, now);
  if (told == PumpTold::runs && !budget.run_open) {
    const bool in_flood =
        state.flood.phase == FloodPhase::fill || state.flood.phase == FloodPhase::soak;
    const Millis used = in_flood ? state.flood.row.pump_on : Millis{0};
    open_run(budget, permitted_run(plan.table, seen.budget, used),
             in_flood && state.flood.retries == 0, now);
  } else if (state.pump_proof.runs_untold) {  // it moves water, whoever drives it
    if (!budget.run_open) open_run(budget, Millis{0}, false, now);
    extend_run(budget, now);
  } else if (told == PumpTold::stopped && proven_stopped(inputs, Output::pump) &&
             proven_stopped(inputs, Output::pump_series)) {
    close_run(budget, now);
  } else {
    extend_run(budget, now);
  }
}

void tell_level(EventKind kind, Output output, const Command& command, Events& events) {
  Event event;
  event.kind = kind;
  event.output = output;
  event.level = command.level;
  event.because = command.because;
  events.push(event);
}

// So that no level outlasts in the journal the hand that gave it.
void tell_hands(const Plan& plan, const State& state, Events& events) {
  for (const OutputInfo& row : kOutputs) {
    if (!state.changed_hands[row.output]) continue;
    Command command = state.last.commands[row.output];
    command.because = because(drives(plan, row.output) ? Reason::taken_over : Reason::given_away);
    tell_level(EventKind::actuation, row.output, command, events);
  }
}

// True when any level changed, of what is in another hand too.
bool tell_actuations(State& state, const OutputImage& granted, Instant now, Events& events) {
  bool any = false;
  for (const OutputInfo& row : kOutputs) {
    const Command& would = granted.would[row.output];
    if (state.last.would[row.output].level != would.level) {
      tell_level(EventKind::would_actuate, row.output, would, events);
      any = true;
    }
    const Command& command = granted.commands[row.output];
    if (state.last.commands[row.output].level == command.level) continue;
    tell_level(EventKind::actuation, row.output, command, events);
    any = true;
    const Permille before = state.last.commands[row.output].level;
    if (is_signal(row.output)) continue;  // no load
    if ((before == kStopped) != (command.level == kStopped)) note_switching(state.echo, now);
  }
  return any;
}

// What tells of it stays out of it.
void safe_everything(const Plan& plan, Demands& demands) {
  for (const OutputInfo& row : kOutputs)
    if (plan.outputs[row.output] && !is_signal(row.output))
      demands.push({row.output, plan.outputs[row.output]->safe, Precedence::interlock,
                    because(Reason::safe_mode)});
}

void tell_alarms(const Plan& plan, State& state, const Inputs& inputs, const Seen& seen,
                 Instant now, Events& events) {
  const Conditions conditions = alarm_conditions(plan, state, inputs, seen, now);
  run_alarms(state.kept.alarms, conditions, state.service, now, [&](const AlarmChange& change) {
    Event event;
    event.kind = EventKind::alarm;
    event.alarm = change.alarm;
    event.alarm_from = change.from;
    event.alarm_to = change.to;
    event.because = change.because;
    events.push(event);
  });
}

Instant wake_after(const Plan& plan, const State& state, const Seen& seen, const FloodNews& news,
                   bool safe_mode, bool changed, Instant now) {
  const std::int64_t nap = limits::kLongestSleep.count();
  Instant next = instant(Millis{(tick_ms(now) / nap + 1) * nap});
  const bool pump_closed = pump_told(plan, state.last) != PumpTold::stopped ||
                           contacts_are_tried(state) || state.pump_proof.runs_untold;
  // The parts see what was granted in the scan after: a change is followed by one more look. What
  // waits for a budget or a gap is looked at again after the longest sleep at the latest.
  const bool lags = signals_lag(plan, state, safe_mode, now);
  if (pump_closed || changed || lags || news.phase_changed || news.started)
    next = std::min(next, now + limits::kScanPeriod);
  if (next_whole_second(next) <= next_whole_second(now + Millis{1}))
    return next_whole_second(next);  // nothing that waits is due before that
  const auto consider = [&](Instant at) {
    if (at > now) next = std::min(next, at);
  };
  consider(next_schedule_deadline(plan, state, state.last_wall, now));
  consider(next_flood_deadline(plan.table, state.flood, state.kept.flood_learnt,
                               flood_inputs(plan, state, seen)));
  consider(next_arbiter_deadline(plan, state, state.last, now));
  consider(next_alarm_deadline(state.kept.alarms));
  consider(next_lease_deadline(state));
  consider(next_dip_deadline(state));
  consider(next_roots_deadline(plan, state));
  consider(next_supply_deadline(state, now));
  consider(next_button_deadline(state.button, now));
  consider(next_fan_deadline(state, now));
  consider(next_rail_deadline(state, now));
  consider(state.law_wake);
  consider(next_step_test_deadline(plan, state, safe_mode, now));
  consider(run_deadline(state.kept.budget));
  consider(next_denial_deadline(state.denials, now));
  for (const PointInfo& row : kPoints)
    if (const auto& fitted = plan.points[row.point]) {
      consider(next_age_deadline(*fitted, state.points[row.point], now));
      consider(next_contact_deadline(row.point, state.points[row.point]));
    }
  return next_whole_second(next);
}

// What was not debited before it ran, a hand's or a timer's, is saved as it grows and when it ends.
bool minutes_between(Instant before, Instant after) {
  constexpr std::int64_t kMinute = 60'000;
  return tick_ms(before) / kMinute != tick_ms(after) / kMinute;
}

bool worth_keeping(const Events& events) {
  return std::any_of(events.begin(), events.end(), [](const Event& event) {
    switch (event.kind) {
      case EventKind::latch_set:
      case EventKind::latch_reset:
      case EventKind::flood_phase:
      case EventKind::cycle_closed:
      case EventKind::slot_skipped:
      case EventKind::stage:
      case EventKind::alarm:
      case EventKind::day_closed:
      case EventKind::service:
      case EventKind::step_test:
      case EventKind::proof_test:
      case EventKind::hand_measurement:
      case EventKind::would_flood:
      case EventKind::calibration:
        return true;
      case EventKind::actuation:
        return is_pump_contact(event.output) || has_compressor(event.output);
      case EventKind::cycle_settled:
      case EventKind::would_actuate:
      case EventKind::targets:
      case EventKind::reading_state:
      case EventKind::request:
      case EventKind::time:
      case EventKind::boot:
      case EventKind::settings:
      case EventKind::client:
      case EventKind::fault:
        return false;
    }
    return false;
  });
}

}  // namespace

void scan(const Plan& plan, const ClimateLaw& law, State& state, const Inputs& inputs, Instant now,
          Outcome& out) {
  out.events.clear();
  out.derived.clear();
  out.demands.clear();
  Events& events = out.events;
  Demands& demands = out.demands;
  Seen seen;

  distrust_changed_memory(plan, state, now, events);
  tally_interval(plan, state, now);
  take_driven(state, inputs, now, events);
  take_readings(plan, state, inputs, now, events);
  const bool new_sample = derive(plan, state, now, out);
  follow_clock(plan, state, believed(state, inputs.wall), now, events);
  follow_demand(plan, state, follow_roots(plan, state, now), now);
  date_proofs(state);
  date_calibrations(state);
  for (const HandNote& note : inputs.hands) take_hand_note(state, note, events);
  turn_day(state, now, events);
  mean_vpd(state, new_sample, now);

  watch_pump(plan, state, inputs, now);
  watch_supply(plan, state, now);
  follow_fan(plan, state, now);
  seen.leak = watch_leaks(plan, state, inputs.samples);
  follow_rail(plan, state, seen.leak.worst, now);
  seen.budget = view_budget(plan.table, state.kept.budget, now, spares_water(plan, state));
  state.kernel_inputs = kernel_inputs(plan, state, inputs, seen, now);
  const FloodWish wish = answer_requests(plan, state, inputs, now, events);
  state.kernel_inputs.service = state.service;
  expire_leases(state, now, events);
  judge_outputs(plan, state, inputs, seen, events);

  if (!state.scanned) {
    tell_hands(plan, state, events);
    close_step_test(state, events);
    close_interrupted(plan, state, now, events);
  }
  const bool tripped = state.verdicts.of[Output::pump].trip;
  ask_schedule(plan, state, time_is_known(state.last_wall), demands);
  ask_rail(state, demands);
  const FloodNews news = ask_flood(plan, state, seen, wish, now, demands, events);
  latch_findings(plan, state, inputs, seen, events);
  ask_climate(plan, law, state, new_sample, now, demands);
  ask_water(plan, state, demands);
  ask_step_test(plan, state, inputs.safe_mode, now, demands, events);
  note_refusal(state, events, now);
  ask_signals(plan, state, inputs.safe_mode, now, demands);
  push_holds(state, demands);
  out.distrust = note_denials(state.denials, demands, tripped, now);
  if (inputs.safe_mode) safe_everything(plan, demands);

  out.outputs = state.last;
  arbitrate(plan, state, demands, state.verdicts, state.targets.quiet, now, out.outputs);
  join_contacts(plan, state, now, out.outputs);
  const Instant debited_until = run_deadline(state.kept.budget);
  settle_budget(plan, state, inputs, seen, pump_told(plan, out.outputs), news.started, now);
  const bool changed = tell_actuations(state, out.outputs, now, events);
  tally_changes(state, out.outputs);
  const bool pumps = pump_runs(plan, out.outputs) || another_hand_pumps(state.flood);
  follow_dip(state, news, pumps, now, events);
  state.last = out.outputs;

  tell_alarms(plan, state, inputs, seen, now, events);
  state.kept.service = state.service;
  state.kept.service_until_tick = tick_ms(state.service_until);
  state.shadow.made = true;
  state.shadow.kernel = state.kept.kernel;
  state.shadow.budget = state.kept.budget;
  state.last_scan = now;
  state.scanned = true;
  out.keep = worth_keeping(events) || out.distrust ||
             minutes_between(debited_until, run_deadline(state.kept.budget));
  out.next_wake =
      wake_after(plan, state, seen, news, inputs.safe_mode, changed || out.distrust, now);
}

}  // namespace neap
