#include "daemon/core/flood.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/flood_level.h"
#include "daemon/core/flood_proof.h"
#include "daemon/core/flood_step.h"
#include "daemon/core/flood_still.h"
#include "daemon/core/limits.h"

namespace neap {
namespace {

// Weight of the newest proven time in what is learnt: about the last five floods count.
constexpr double kLearnWeight = 0.3;

constexpr Because kSomewhereElse = because(Reason::flood_lost_water);

void learn(Millis& mean, int& count, Millis newest) {
  const auto old_ms = static_cast<double>(mean.count());
  const auto new_ms = static_cast<double>(newest.count());
  mean = count == 0 ? newest : Millis{std::llround(old_ms + kLearnWeight * (new_ms - old_ms))};
  ++count;
}

Because or_else(const Because& cause, Reason otherwise) {
  return cause.reason == Reason::none ? because(otherwise) : cause;
}

}  // namespace

void Step::enter(FloodPhase phase) {
  state_.phase = phase;
  state_.since = now_;
  news_.phase_changed = true;
}

void Step::take_readings() {
  state_.stepped_at = now_;
  // The kernel has latched what the step before this one raised.
  state_.lost_water = false;
  state_.fill_expired = false;
  state_.drain_expired = state_.drain_expired && proof::tray_may_hold_water(in_);
  follow_level(state_, in_);
}

// Water that leaves the reservoir while the pump stands is on its way to the floor, or will be.
void Step::watch_still_water() {
  const std::optional<double> fell = falls_at_rest(state_, in_, now_);
  if (!fell) return;
  state_.lost_water = true;
  state_.lost_because = because(Reason::reservoir_falls, *fell);
}

void Step::stop_by_operator() {
  state_.retry_pending = false;
  if (state_.phase == FloodPhase::fill || state_.phase == FloodPhase::soak)
    end_cycle(FloodOutcome::stopped, because(Reason::flood_stopped_by_operator));
}

// Runs on until nothing changes, so that a phase which is over at once (nothing to drain) does not
// last until the next scan, whenever that is.
void Step::advance() {
  for (;;) {
    const FloodPhase before = state_.phase;
    switch (before) {
      case FloodPhase::idle:
        return;
      case FloodPhase::fill:
        is_seen() ? see_fill() : step_fill();
        break;
      case FloodPhase::soak:
        is_seen() ? see_soak() : step_soak();
        break;
      case FloodPhase::drain:
        step_drain();
        break;
      case FloodPhase::rest:
        if (now_ - state_.since < table_.min_gap) return;
        settle_row();
        enter(FloodPhase::idle);
        break;
    }
    if (state_.phase == before) return;
  }
}

// --- starting ---------------------------------------------------------------------------------

namespace {

Because refusal(const FloodState& state, const FloodInputs& in) {
  if (state.phase != FloodPhase::idle && state.phase != FloodPhase::rest)
    return because(Reason::flood_already_running);
  if (in.tray_full == FloatSeen::set || in.tray_wet == FloatSeen::set)
    return because(Reason::tray_not_drained);
  if (!in.start_permitted || in.pump_tripped)
    return or_else(in.withheld_because, Reason::flood_withheld);
  return {};
}

}  // namespace

Because start_refusal(const TablePlan& table, const FloodState& state, const FloodInputs& in,
                      Instant now) {
  const Because refused = refusal(state, in);
  const bool resting = state.phase == FloodPhase::rest ||
                       (state.any_ended && now - state.last_ended < table.min_gap);
  return resting && refused.reason != Reason::flood_already_running
             ? because(Reason::flood_too_soon)
             : refused;
}

void Step::start(const FloodStart& start) {
  if (!start.wanted) return;
  const Because refused = start_refusal(table_, state_, in_, now_);
  if (refused.reason != Reason::none) {
    news_.refused = refused;
    return;
  }
  state_.retries = 0;
  begin(start.slot, start.origin);
}

// A retry that may not be made when it is due is dropped: by the time a person has dealt with the
// cause, the flood belongs to another hour.
void Step::start_retry() {
  const bool between = state_.phase == FloodPhase::idle || state_.phase == FloodPhase::rest;
  if (!state_.retry_pending || !between || now_ < state_.retry_at) return;
  state_.retry_pending = false;
  const Because refused = refusal(state_, in_);
  if (refused.reason != Reason::none) {
    news_.refused = refused;
    return;
  }
  if (state_.row.outcome == FloodOutcome::fill_failed && !water_is_back()) return;
  begin(state_.row.slot, FloodOrigin::retry);
}

// A fill that failed put water somewhere. When it is not back in the reservoir by now it is where
// it should not be; when that cannot be read, nobody knows. Either way no more is pumped after it.
bool Step::water_is_back() {
  if (proof::came_back(state_, in_, proof::kRetryPart)) return true;
  state_.lost_water = in_.reservoir.usable();
  state_.fill_expired = !state_.lost_water;
  if (state_.lost_water) state_.last_end = state_.lost_because = kSomewhereElse;
  return false;
}

void Step::begin(SlotId slot, FloodOrigin origin) {
  enter(FloodPhase::fill);
  news_.started = true;
  state_.fill_started = now_;
  state_.pump_wanted = true;
  state_.retry_pending = false;
  state_.effect_seen = false;
  state_.by_time = in_.timed;
  state_.fill_seen = false;
  state_.proven_fill.reset();
  const bool dry = in_.tray_wet == FloatSeen::clear && !in_.pump_is_on;
  state_.from_drained =
      dry || (state_.still.from && now_ - *state_.still.from >= table_.drain_limit);
  state_.level_before_known = in_.reservoir.usable();
  if (state_.level_before_known) state_.level_before_l = in_.reservoir->value;
  state_.level_lowest_l = state_.level_before_l;
  state_.level_mark_l = state_.level_before_l;
  state_.level_mark_at = now_;
  state_.level_full_l.reset();
  state_.level_above_l.reset();
  state_.effect_from = now_;
  state_.row = CycleRow{};
  state_.row.started_tick = tick_ms(now_);
  state_.row.slot = slot;
  state_.row.origin = origin;
  state_.row_open = true;
}

// --- filling and soaking ----------------------------------------------------------------------

void Step::step_fill() {
  if (stopped_by_interlock()) return;
  if (proof::full_for(in_, now_) >= proof::kFullFor && full_by_float()) return;
  if (proof::more_than_the_tray(table_, state_, in_, now_)) return lost_water(kSomewhereElse);

  const Millis elapsed = now_ - state_.fill_started;
  if (state_.by_time && elapsed >= proof::shortened_fill(learnt_))
    return filled(Reason::flood_full_by_time);
  if (in_.depth == Depth::by_litres) {
    const std::optional<double> fell = proof::fallen(state_, in_);
    if (fell && *fell >= in_.litres.value) {
      // All the water has left the reservoir, and the lowest point of the tray is dry.
      if (in_.tray_wet == FloatSeen::clear) return lost_water(kSomewhereElse);
      return filled(Reason::flood_full_by_litres);
    }
    if (!state_.level_before_known && elapsed >= proof::timed_fill(table_, learnt_, in_))
      return filled(Reason::flood_full_by_time);
  }
  if (!state_.effect_seen) {
    proof::Run run{state_.effect_from, std::nullopt};
    if (state_.level_before_known) run.level_l = state_.level_before_l;
    const proof::Effect effect = proof::pump_effect(table_, run, in_, now_);
    if (effect == proof::Effect::nothing) return nothing_moved();
    state_.effect_seen = effect == proof::Effect::moved;
    if (state_.effect_seen) state_.no_effect_alarm = false;
  }
  if (elapsed >= proof::fill_limit(table_, learnt_, in_)) return fill_ran_out();
  const std::optional<Millis> slow = proof::slow_fill(table_, learnt_, in_);
  if (slow && elapsed >= *slow) state_.fill_alarm = true;
}

void Step::step_soak() {
  if (stopped_by_interlock()) return;
  if (proof::more_than_the_tray(table_, state_, in_, now_)) return lost_water(kSomewhereElse);
  if (now_ - state_.since >= proof::soak_time(table_, in_))
    end_cycle(FloodOutcome::running, because(Reason::none));
}

// The pump was stopped, or never let run, by something above the flood; or the valve that should
// hold the water was opened.
bool Step::stopped_by_interlock() {
  if (state_.pump_wanted && in_.pump_tripped) {
    end_cycle(FloodOutcome::tripped, or_else(in_.trip_because, Reason::flood_tripped));
    return true;
  }
  const bool refused = state_.pump_wanted && !in_.pump_is_on;
  const bool let_go = !state_.pump_wanted && in_.valve_tripped;
  if (!refused && !let_go) return false;
  end_cycle(FloodOutcome::tripped,
            or_else(let_go ? in_.trip_because : in_.withheld_because, Reason::flood_tripped));
  return true;
}

// A splash sets the float for a moment, one that hangs for good: neither makes a tray full. The
// level is believed against the float; the learnt time is not, a pump may have become faster.
// False while the fill goes on.
bool Step::full_by_float() {
  const proof::Full full = proof::full_by_float(table_, state_, learnt_, in_, now_);
  const bool lasts = proof::full_for(in_, now_) >= proof::kEarlyFor;
  if (full != proof::Full::credible && !lasts) return false;
  state_.float_doubtful = full == proof::Full::against_the_level;
  if (state_.float_doubtful)
    end_cycle(FloodOutcome::fill_failed,
              because(Reason::flood_float_early, proof::fallen(state_, in_).value_or(0)));
  else
    filled(Reason::flood_full_by_float);
  return true;
}

void Step::filled(Reason by) {
  // The tray was full when its float first said so.
  const Millis waited = by == Reason::flood_full_by_float ? proof::full_for(in_, now_) : Millis{0};
  const Millis fill = now_ - state_.fill_started - waited;
  state_.row.fill = fill;
  state_.fill_seen = by != Reason::flood_full_by_time;
  if (by == Reason::flood_full_by_float && waited < proof::kEarlyFor) state_.proven_fill = fill;
  if (by == Reason::flood_full_by_litres) {
    const double whole = table_.flood_volume / in_.litres;
    state_.proven_fill = Millis{std::llround(static_cast<double>(fill.count()) * whole)};
  }
  const std::optional<Millis> slow = proof::slow_fill(table_, learnt_, in_);
  if (state_.proven_fill && !is_seen()) state_.fill_alarm = slow && fill >= *slow;
  if (by == Reason::flood_full_by_float)
    state_.level_full_l = proof::level_now(table_, state_, in_, now_);
  state_.no_effect_alarm = false;
  state_.last_end = because(by);
  news_.filled = true;

  enter(FloodPhase::soak);
  if (!proof::pump_holds_soak(table_)) stop_pump();
}

// The row is closed at once: it is news, and what comes back from here on is no measure of the
// drain. The tray still drains, proven by its floats or by the whole limit.
void Step::lost_water(const Because& why) {
  state_.lost_water = true;
  state_.lost_because = why;
  end_cycle(FloodOutcome::lost_water, why);
  close_row();
  state_.level_before_known = false;
}

void Step::nothing_moved() {
  if (state_.retries < limits::kRetries)
    plan_retry();
  else
    state_.no_effect_alarm = true;
  end_cycle(FloodOutcome::no_effect, because(Reason::flood_no_effect));
}

// Only a known water balance allows another try. Without it the next fill might be the next one on
// the floor.
void Step::fill_ran_out() {
  const std::optional<double> fell = proof::fallen(state_, in_);
  if (fell && *fell > proof::kLostPart * table_.flood_volume.value)
    return lost_water(proof::whereabouts(table_, state_, in_, *fell, now_));
  if (fell && state_.retries < limits::kRetries)
    plan_retry();
  else
    state_.fill_expired = true;
  end_cycle(FloodOutcome::fill_failed, because(Reason::flood_fill_limit));
}

void Step::plan_retry() {
  ++state_.retries;
  state_.retry_pending = true;
  state_.retry_at = now_ + limits::kRetryGap;
}

void Step::stop_pump() {
  if (!state_.pump_wanted) return;
  state_.pump_wanted = false;
  state_.row.pump_on = now_ - state_.fill_started;
}

// --- draining ---------------------------------------------------------------------------------

// Ends fill or soak: whatever the outcome, the tray now drains. `running` means all is well so far.
void Step::end_cycle(FloodOutcome outcome, const Because& why) {
  if (state_.phase == FloodPhase::fill) state_.row.fill = now_ - state_.fill_started;
  if (state_.phase == FloodPhase::soak) state_.row.soak = now_ - state_.since;
  state_.row.outcome = outcome;
  if (outcome != FloodOutcome::running) state_.last_end = why;
  stop_pump();
  enter(FloodPhase::drain);
}

void Step::step_drain() {
  const proof::Drained how = proof::drained(table_, state_, in_, now_);
  if (how == proof::Drained::no && now_ - state_.since < table_.drain_limit) return;
  end_drain(how);
}

void Step::end_drain(proof::Drained how) {
  state_.drain_expired = how == proof::Drained::no;
  if (state_.row_open) {
    state_.row.drain = now_ - state_.since;
    if (state_.row.outcome == FloodOutcome::running) {
      const bool slow = state_.drain_expired;
      state_.row.outcome = slow ? FloodOutcome::slow_drain : FloodOutcome::complete;
      state_.last_end = because(slow ? Reason::flood_slow_drain : Reason::flood_drained);
    }
    learn_from_row(how);
    news_.fill_seen = state_.fill_seen;
    news_.drain_seen = how == proof::Drained::seen;
    settle_retry();
    close_row();
  }
  state_.last_ended = now_;
  state_.any_ended = true;
  enter(FloodPhase::rest);
}

void Step::close_row() {
  const std::optional<double> back = proof::risen(state_, in_);
  state_.row.litres_known = back.has_value();
  if (back) {
    state_.row.litres_out = state_.level_before_l - state_.level_lowest_l;
    state_.row.litres_back = *back;
  }
  state_.row_open = false;
  news_.row_closed = true;
  news_.row = state_.row;
}

// The last of the water runs back during the rest: only now the balance of the cycle is true. More
// than what left is a top-up, not a return.
void Step::settle_row() {
  const std::optional<double> back = proof::risen(state_, in_);
  if (state_.row.litres_known && back)
    state_.row.litres_back = std::min(*back, state_.row.litres_out);
  news_.settled = true;
  news_.row = state_.row;
}

// What a pump run by hand had left in the tray would be learnt as a faster pump, and every later
// fill would fail by that. Another hand's floods begin and end when a sensor shows it: too late.
void Step::learn_from_row(proof::Drained how) {
  if (is_seen() || state_.row.outcome != FloodOutcome::complete) return;
  if (state_.proven_fill && state_.from_drained)
    learn(learnt_.fill, learnt_.fills, *state_.proven_fill);
  if (how == proof::Drained::seen) learn(learnt_.drain, learnt_.drains, state_.row.drain);
}

// The tray rests before water goes into it again. (One that did not drain is latched, which refuses
// the retry.)
void Step::settle_retry() {
  if (state_.row.outcome == FloodOutcome::fill_failed)
    state_.retry_at = std::max(state_.retry_at, now_ + table_.min_gap);
}

// --- demands ----------------------------------------------------------------------------------

void Step::push(Demands& demands) const {
  const Because why = because(reason_of(state_.phase));
  demands.push({Output::pump, state_.pump_wanted ? kRunning : kStopped, Precedence::sequence, why});
  if (table_.drain_path != DrainPath::drain_valve) return;
  const bool hold = state_.phase == FloodPhase::fill || state_.phase == FloodPhase::soak;
  demands.push({Output::drain_valve, hold ? kStopped : kRunning, Precedence::sequence, why});
}

FloodNews step_flood(const TablePlan& table, FloodState& state, FloodLearnt& learnt,
                     const FloodInputs& in, const FloodStart& start, bool stop_wanted, Instant now,
                     Demands& demands) {
  Step step(table, state, learnt, in, now);
  step.take_readings();
  watch_held_pump(table, state, in, now);
  step.watch_still_water();
  if (stop_wanted) step.stop_by_operator();
  step.advance();
  step.start_retry();
  step.start(start);
  step.push(demands);
  return step.news();
}

}  // namespace neap
