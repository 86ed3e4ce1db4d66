#include "daemon/core/asks.h"

#include <algorithm>

#include "daemon/core/demand_clock.h"
#include "daemon/core/dwell.h"
#include "daemon/core/fan_speed.h"
#include "daemon/core/flood_proof.h"
#include "daemon/core/proof_tests.h"
#include "daemon/core/pump_contacts.h"
#include "daemon/core/roots.h"
#include "daemon/core/schedule.h"
#include "daemon/core/sense.h"
#include "daemon/core/tally.h"

namespace neap {

Permille level_of(const Plan& plan, const State& state, Output output) {
  const OutputImage& last = state.last;
  return in_another_hand(plan, output) ? last.would[output].level : last.commands[output].level;
}

void ask_schedule(const Plan& plan, const State& state, bool time_known, Demands& demands) {
  for (const Output output : {Output::air_pump, Output::circulation_fan, Output::sensor_rail})
    demands.push({output, kRunning, Precedence::schedule, because(Reason::always_running)});
  const StagePlan& stage = stage_in_force(plan, state);
  if (stage.fallow)
    demands.push(
        {Output::exhaust_fan, Permille{1}, Precedence::schedule, because(Reason::fresh_air_floor)});
  if (!time_known) return;
  // Ramps step by the minute, so that their steps do not depend on how often scans come.
  const CivilTime minute{state.civil.date, state.civil.second_of_day / 60 * 60};
  const Permille level =
      state.day ? std::max(light_level_at(stage, minute), Permille{1}) : kStopped;
  const Reason why = state.day                             ? Reason::by_day
                     : state.doubts[Doubt::light_stuck_on] ? Reason::doubt_light_stuck_on
                                                           : Reason::by_night;
  demands.push({Output::light, level, Precedence::schedule, because(why)});
}

FloodInputs flood_inputs(const Plan& plan, const State& state, const Seen& seen) {
  const FloodPlan& floods = stage_in_force(plan, state).floods;
  FloodInputs in;
  in.timed = state.kernel_inputs.timed;
  in.leak_known = state.kept.kernel.latched[static_cast<std::size_t>(Latch::leak)];
  in.service = state.service;
  in.tray_full = float_seen(plan, state, Point::tray_full);
  const PointWatch& full = state.points[Point::tray_full];
  if (full.reading && full.contact.said == Contact::set) in.full_since = full.contact.since;
  in.tray_wet = float_seen(plan, state, Point::tray_wet);
  in.reservoir = in_unit<Litres>(state, Point::reservoir_level);
  in.pump_is_on = in_another_hand(plan, Output::pump)
                      ? float_seen(plan, state, Point::pump_running) == FloatSeen::set
                      : pump_runs(plan, state.last) || state.pump_proof.runs_untold;
  in.pump_stands = in_another_hand(plan, Output::pump) &&
                   float_seen(plan, state, Point::pump_running) == FloatSeen::clear;
  in.pump_tripped = state.verdicts.of[Output::pump].trip;
  in.valve_tripped = state.verdicts.of[Output::drain_valve].trip;
  const Output tripped = in.pump_tripped ? Output::pump : Output::drain_valve;
  in.trip_because = state.verdicts.of[tripped].because;
  in.start_permitted = seen.pump_permitted;
  in.withheld_because = seen.withheld;
  in.soak = floods.soak;
  in.depth = floods.depth;
  in.litres = floods.litres;
  return in;
}

namespace {

// Why the phase was entered; a start of neap's own and a drain after a whole soak need no reason.
Because phase_reason(const FloodState& flood) {
  const bool own_fill =
      flood.phase == FloodPhase::fill && flood.row.origin != FloodOrigin::another_hand;
  const bool says_itself = flood.phase == FloodPhase::idle || own_fill;
  const bool whole = flood.phase == FloodPhase::drain && flood.row.outcome == FloodOutcome::running;
  return says_itself || whole ? Because{} : flood.last_end;
}

void tell_flood(const Plan& plan, State& state, const FloodNews& news, Events& events) {
  if (news.started || news.phase_changed) {
    Event event;
    event.kind = EventKind::flood_phase;
    event.phase = state.flood.phase;
    event.slot = state.flood.row.slot;
    event.because = phase_reason(state.flood);
    events.push(event);
  }
  if (!news.row_closed) return;
  if (news.row.outcome == FloodOutcome::complete) {
    ++state.kept.tally.floods_complete;
    const Because shown = judge_flood(plan, news);
    if (shown.reason != Reason::none && note_flood_proof(plan, state)) {
      Event proven = proof_event(ProofTest::flood);
      proven.because = shown;
      events.push(proven);
    }
  }
  Event event;
  event.kind = EventKind::cycle_closed;
  event.cycle = news.row;
  event.slot = news.row.slot;
  events.push(event);
}

// What the cycle did for the roots. A flood that ends without having filled the tray was cut short,
// and a planned one missed, once no retry of it is left.
void follow_water(State& state, const FloodInputs& in, const FloodNews& news, bool retry_waited,
                  Instant now) {
  const bool between =
      state.flood.phase == FloodPhase::idle || state.flood.phase == FloodPhase::rest;
  const bool full = proof::full_for(in, now) >= proof::kFullFor;
  const bool by_hand = between && full && in.pump_is_on;
  if (news.filled || by_hand) {
    demand_met(state, now);
    return roots_watered(state, now);
  }
  const bool dropped = retry_waited && !state.flood.retry_pending && !news.started;
  const CycleRow& row = state.flood.row;
  const bool cut = news.phase_changed && state.flood.phase == FloodPhase::drain &&
                   row.outcome != FloodOutcome::running;
  if (!dropped && !cut && !news.row_closed) return;
  RootsClock& roots = state.kept.roots;
  if (roots.proven && roots.since_tick >= row.started_tick) return;
  if (state.flood.retry_pending) return;
  roots.cut_short = true;
  const bool planned =
      row.origin != FloodOrigin::operator_request && row.origin != FloodOrigin::another_hand;
  if (planned) state.kept.flood_missed = true;
}

// The kept copy of the cycle follows the cycle, so that a restart knows what it cut off.
void keep_flood(State& state) {
  Kept& kept = state.kept;
  kept.flood_was_running = state.flood.phase == FloodPhase::fill ||
                           state.flood.phase == FloodPhase::soak ||
                           state.flood.phase == FloodPhase::drain;
  kept.flood_row = state.flood.row;
  kept.any_flood_ended = state.flood.any_ended;
  kept.flood_pending = {state.flood.no_effect_alarm, state.flood.fill_alarm,
                        state.flood.float_doubtful,  state.flood.retry_pending,
                        state.flood.retries,         tick_ms(state.flood.retry_at)};
  kept.last_flood_ended_tick = tick_ms(state.flood.last_ended);
}

// Counts new floods alone: a retry belongs to the flood that it retries.
Because too_many(const Plan& plan, const Seen& seen) {
  const bool enough = seen.budget.floods_in_hour >= plan.table.max_floods_per_hour;
  return enough ? because(Reason::floods_per_hour, seen.budget.floods_in_hour) : Because{};
}

// Why neap would not flood now, if the pump were its own.
Because why_not_now(const Plan& plan, const State& state, const Seen& seen, const FloodInputs& in,
                    Instant now) {
  if (!seen.pump_permitted) return seen.withheld;
  const Because enough = too_many(plan, seen);
  if (state.flood.phase == FloodPhase::idle && enough.reason != Reason::none) return enough;
  return start_refusal(plan.table, state.flood, in, now);
}

// The pump is in another hand: its floods are put down, and what neap would have done at its own
// slots. None of those is missed, for none was neap's to make.
FloodNews watch_floods(const Plan& plan, State& state, const Seen& seen, const FloodWish& wish,
                       Instant now, Events& events) {
  const FloodInputs in = flood_inputs(plan, state, seen);
  const FloodNews news = see_flood(plan.table, state.flood, state.kept.flood_learnt, in, now);
  follow_balance(plan.table, state.kept.balance, state.idle_window, state.flood.still.from,
                 in.reservoir, state.service);
  follow_water(state, in, news, false, now);
  const FloodStart own = due_flood(plan, state, state.last_wall, true, {}, events);
  if (own.wanted && own.origin == FloodOrigin::slot) {
    Event event;
    event.kind = EventKind::would_flood;
    event.slot = own.slot;
    event.because = why_not_now(plan, state, seen, in, now);
    events.push(event);
    mark_seen(state, own.slot);
  }
  state.withheld = {};
  state.flood.retry_pending = false;  // of a time in which the pump was neap's
  state.kept.flood_missed = false;
  state.kept.catch_up_pending = false;
  if (wish.start) answer_start(wish.start_id, false, because(Reason::observing), events);
  tell_flood(plan, state, news, events);
  keep_flood(state);
  return news;
}

}  // namespace

FloodNews ask_flood(const Plan& plan, State& state, const Seen& seen, const FloodWish& wish,
                    Instant now, Demands& demands, Events& events) {
  if (in_another_hand(plan, Output::pump))
    return watch_floods(plan, state, seen, wish, now, events);
  const bool idle = state.flood.phase == FloodPhase::idle;
  const Because enough_because = too_many(plan, seen);
  const bool enough = enough_because.reason != Reason::none;
  FloodStart start = due_flood(plan, state, state.last_wall, seen.pump_permitted && idle && !enough,
                               state.withheld, events);
  const bool by_schedule = start.wanted;
  if (!by_schedule && wish.start && !enough)
    start = {true, SlotId{}, FloodOrigin::operator_request};
  if (!start.wanted && idle && !enough && state.kernel_inputs.timed && seen.pump_permitted)
    start = {true, SlotId{}, FloodOrigin::by_time};
  FloodInputs in = flood_inputs(plan, state, seen);
  if (start.origin == FloodOrigin::operator_request && start.wanted)
    in.start_permitted = seen.by_hand_permitted;
  // A missing proof withholds the next flood and never cut one short.
  const bool wet = state.flood.phase == FloodPhase::fill || state.flood.phase == FloodPhase::soak;
  if (wet && in.withheld_because == unproven(plan.proofs, state.kept.proofs))
    in.withheld_because = {};
  const bool retry_waited = state.flood.retry_pending;
  FloodNews news = step_flood(plan.table, state.flood, state.kept.flood_learnt, in, start,
                              wish.stop, now, demands);
  follow_balance(plan.table, state.kept.balance, state.idle_window, state.flood.still.from,
                 in.reservoir, state.service);
  if (news.started && start.wanted) mark_started(state, start);
  follow_water(state, in, news, retry_waited, now);
  // Why the slot that is due has not started: said while it waits and when it is skipped.
  state.withheld = !state.slot_due        ? Because{}
                   : !seen.pump_permitted ? seen.withheld
                   : enough && idle       ? enough_because
                                          : news.refused;
  if (wish.start) {
    const bool started = news.started && !by_schedule;
    const Because why = news.refused.reason != Reason::none ? news.refused
                        : enough && idle                    ? enough_because
                                         : because(Reason::flood_already_running);
    answer_start(wish.start_id, started, why, events);
  }
  tell_flood(plan, state, news, events);
  keep_flood(state);
  return news;
}

void close_interrupted(const Plan& plan, State& state, Instant now, Events& events) {
  const FloodNews news = resume_flood(plan.table, state.flood, state.kept.flood_row,
                                      state.kept.flood_was_running, now);
  follow_water(state, FloodInputs{}, news, false, now);
  tell_flood(plan, state, news, events);
}

namespace {

// Whose devices a law is asked for: those that neap drives, while the rest are as good as not
// fitted; or all of them, each where neap has it or would have it.
enum class Asked { driven, all };

LegalMove move_of(const Plan& plan, const State& state, Output output, Asked asked, Instant now) {
  const auto& fitted = plan.outputs[output];
  if (!fitted || (asked == Asked::driven && !fitted->driven)) return {};
  return legal_move(*fitted, state.kept.dwell[output], level_of(plan, state, output),
                    state.targets.quiet, now);
}

// When quiet hours next begin or end, and what the fan may do from then on.
void foresee_fan_ceiling(const Plan& plan, const State& state, Instant now, KnownFuture& future) {
  const QuietHours& hours = plan.programme.quiet;
  const auto& fan = plan.outputs[Output::exhaust_fan];
  if (!hours.fitted || !fan || fan->quiet_ceiling >= fan->ceiling) return;
  const std::int32_t edge_s = state.targets.quiet ? hours.to_s : hours.from_s;
  const std::int32_t today = state.civil.date;
  const CivilTime edge{edge_s > state.civil.second_of_day ? today : today + 1, edge_s};
  future.fan_ceiling_coming = true;
  future.fan_ceiling_changes = now + seconds{civil_seconds_between(state.civil, edge)};
  future.fan_ceiling_then = in_quiet_hours(hours, edge_s) ? fan->quiet_ceiling : fan->ceiling;
}

KnownFuture known_future(const Plan& plan, const State& state, Instant now) {
  KnownFuture future;
  const auto at = [&](CivilTime t) { return now + seconds{civil_seconds_between(state.civil, t)}; };
  future.flood_now = state.kept.flood_was_running;
  future.flood_started = state.flood.fill_started;
  if (!time_is_known(state.last_wall)) return future;
  foresee_fan_ceiling(plan, state, now, future);
  if (const auto coming = coming_slot(plan, state)) {
    future.flood_coming = true;
    future.next_flood = at(coming->start);
  }
  const StagePlan& stage = stage_in_force(plan, state);
  const LightEdges edges = photoperiod_at(stage, state.civil);
  const bool light = is_light(stage, state.civil);
  future.light_edge_coming = !stage.fallow;
  future.edge_is_lights_on = !light;
  future.next_light_edge =
      at(light ? edges.off : CivilTime{edges.on.date + 1, edges.on.second_of_day});
  return future;
}

ClimateView climate_view(const Plan& plan, const State& state, Asked asked, bool new_sample,
                         Instant now) {
  ClimateView view;
  view.canopy = state.canopy;
  view.room = state.room;
  view.targets = state.targets;
  view.fan = move_of(plan, state, Output::exhaust_fan, asked, now);
  view.dehumidifier = move_of(plan, state, Output::dehumidifier, asked, now);
  view.humidifier = move_of(plan, state, Output::humidifier, asked, now);
  view.future = known_future(plan, state, now);
  view.beliefs = {plan.climate.tent_m3,
                  plan.climate.fan_m3_per_h,
                  plan.climate.dehumidifier_g_per_h,
                  plan.climate.humidifier_g_per_h,
                  plan.climate.dehumidifier_place,
                  plan.climate.dehumidifier_kind};
  if (in_another_hand(plan, Output::light))
    view.light.reset();
  else
    view.light = state.last.commands[Output::light].level;
  const Reading<double>& lux = state.points[Point::light_level].reading;
  if (lux) view.light_lux = *lux;
  view.fan_stands = asked == Asked::driven && fan_stands(state);
  view.now = now;
  view.new_sample = new_sample;
  view.told = asked == Asked::driven;
  return view;
}

// What the law would ask of devices in another hand. Told to nobody, so the air does not answer.
ClimateAsk ask_for_another_hand(const Plan& plan, const ClimateLaw& law, State& state,
                                bool new_sample, Instant now, Demands& demands) {
  Demands all;
  const ClimateView view = climate_view(plan, state, Asked::all, new_sample, now);
  const ClimateAsk ask = run_climate(plan, law, view, state.would_law, all);
  for (const Demand& demand : all)
    if (in_another_hand(plan, demand.output)) demands.push(demand);
  return ask;
}

}  // namespace

void ask_climate(const Plan& plan, const ClimateLaw& law, State& state, bool new_sample,
                 Instant now, Demands& demands) {
  if (stage_in_force(plan, state).fallow) {  // nothing grows: no band to hold
    state.binding = Binding::nothing;
    state.doubts = {};
    state.condensing = false;
    state.law_wake = Instant::max();
    return;
  }
  bool any_ours = false;
  bool any_others = false;
  for (const OutputInfo& row : kOutputs) {
    if (!is_climate_device(row.output)) continue;
    any_ours |= drives(plan, row.output);
    any_others |= in_another_hand(plan, row.output);
  }
  ClimateAsk ask;
  state.law_wake = Instant::max();
  if (any_others) {
    ask = ask_for_another_hand(plan, law, state, new_sample, now, demands);
    state.law_wake = ask.decide_again;
  }
  if (any_ours || !any_others)
    ask = run_climate(plan, law, climate_view(plan, state, Asked::driven, new_sample, now),
                      state.kept.law, demands);
  state.binding = ask.binding;
  state.diagnosis = ask.diagnosis;
  state.cures = ask.cures;
  state.doubts = ask.doubts;
  state.condensing = ask.condensing;
  state.condensation = ask.condensation;
  state.law_wake = std::min(state.law_wake, ask.decide_again);
}

}  // namespace neap
