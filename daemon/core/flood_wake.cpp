// The flood cycle between steps: when it next wants one, and how it wakes after a restart.
#include <algorithm>

#include "daemon/core/flood.h"
#include "daemon/core/flood_proof.h"
#include "daemon/core/limits.h"

namespace neap {

Reason reason_of(FloodPhase phase) {
  switch (phase) {
    case FloodPhase::idle:
      return Reason::flood_idle;
    case FloodPhase::fill:
      return Reason::flood_filling;
    case FloodPhase::soak:
      return Reason::flood_soaking;
    case FloodPhase::drain:
      return Reason::flood_draining;
    case FloodPhase::rest:
      return Reason::flood_resting;
  }
  return Reason::none;
}

FloodNews resume_flood(const TablePlan&, FloodState& state, const CycleRow& kept_row,
                       bool was_running, Instant now) {
  FloodNews news;
  if (!was_running) return news;
  // A row may have been closed before its drain was over: by a restart before this one, or as news.
  news.row_closed =
      kept_row.outcome != FloodOutcome::interrupted && kept_row.outcome != FloodOutcome::lost_water;
  // What was known of the pump and the float is as true as before; what the tray holds is not.
  const FloodState before = state;
  state = FloodState{};
  state.no_effect_alarm = before.no_effect_alarm;
  state.fill_alarm = before.fill_alarm;
  state.float_doubtful = before.float_doubtful;
  if (kept_row.outcome == FloodOutcome::no_effect) {
    state.retry_pending = before.retry_pending;
    state.retries = before.retries;
    state.retry_at = before.retry_at;
  }
  state.phase = FloodPhase::drain;
  state.since = now;
  state.row = kept_row;
  if (news.row_closed) state.row.outcome = FloodOutcome::interrupted;
  state.last_end = because(Reason::flood_interrupted);
  news.phase_changed = true;
  news.row = state.row;
  return news;
}

Instant next_flood_deadline(const TablePlan& table, const FloodState& state,
                            const FloodLearnt& learnt, const FloodInputs& in) {
  Instant next = Instant::max();
  // What is due and still waits (for a reading that can tell) is looked at when the reading comes.
  const auto consider = [&](Instant due) {
    const Instant at = next_whole_second(due);
    if (at > state.stepped_at) next = std::min(next, at);
  };
  const bool between = state.phase == FloodPhase::idle || state.phase == FloodPhase::rest;
  if (between && state.retry_pending) consider(state.retry_at);
  switch (state.phase) {
    case FloodPhase::idle:
      break;
    case FloodPhase::fill:
      consider(state.fill_started + proof::fill_limit(table, learnt, in));
      if (in.full_since) consider(*in.full_since + proof::kFullFor);
      if (in.full_since) consider(*in.full_since + proof::kEarlyFor);
      if (!state.effect_seen) consider(state.effect_from + limits::kNoEffectAfter);
      if (const auto slow = proof::slow_fill(table, learnt, in))
        consider(state.fill_started + *slow);
      if (in.depth == Depth::by_litres && !state.level_before_known)
        consider(state.fill_started + proof::timed_fill(table, learnt, in));
      break;
    case FloodPhase::soak:
      consider(state.since + proof::soak_time(table, in));
      if (const auto used = proof::room_used_at(table, state, in)) consider(*used);
      break;
    case FloodPhase::drain:
      consider(state.since + proof::timed_drain(table, state));
      consider(state.since + table.drain_limit);
      break;
    case FloodPhase::rest:
      consider(state.since + table.min_gap);
      break;
  }
  return next;
}

}  // namespace neap
