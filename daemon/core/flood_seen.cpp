// Floods by another hand, from what the sensors show of them.
#include <algorithm>

#include "daemon/core/flood_step.h"
#include "daemon/core/flood_still.h"
#include "daemon/core/limits.h"

namespace neap {
namespace {

// A reservoir that falls so far within so short a time feeds a pump: more than a probe's noise and
// a sample for the meter, and 45 L/h at least (common practice, no source).
constexpr double kPumpedL = 1.5;
constexpr Millis kPumpedWithin = minutes{2};

bool is_set(FloatSeen seen) { return seen == FloatSeen::set; }

}  // namespace

// The level before the fall: the highest of late. It moves with evaporation and top-ups, and stays
// where it was while a pump draws.
void Step::follow_resting_level() {
  if (!in_.reservoir) return;
  RestingLevel& resting = state_.resting;
  const double level = in_.reservoir->value;
  const Instant taken = in_.reservoir.taken();
  const bool higher = !resting.level_l || level > *resting.level_l;
  const bool old = taken - resting.at > kPumpedWithin;
  if (higher || old) resting.level_l = level;
  if (higher || old || *resting.level_l - level <= proof::kLevelNoiseL) resting.at = taken;
}

// What shows that somebody pumps, the surest first. A float tells when it rose, a level since when
// it has fallen.
std::optional<Step::Sign> Step::sign_of_water() const {
  if (in_.pump_is_on) return Sign{because(Reason::flood_seen_by_pump), now_};
  if (is_set(in_.tray_wet) || is_set(in_.tray_full))
    return Sign{because(Reason::flood_seen_by_tray), now_};
  // What falls while the pump's own proof says that it stands falls by another way.
  if (in_.pump_stands) return std::nullopt;
  const RestingLevel& resting = state_.resting;
  if (!in_.reservoir || !resting.level_l) return std::nullopt;
  const double fell = *resting.level_l - in_.reservoir->value;
  if (fell < kPumpedL) return std::nullopt;
  return Sign{because(Reason::flood_seen_by_level, fell), resting.at};
}

void Step::seen_to_begin(const Sign& sign) {
  begin(SlotId{}, FloodOrigin::another_hand);
  state_.by_time = false;
  state_.last_end = sign.what;
  state_.fill_started = state_.effect_from = sign.since;
  state_.row.started_tick = tick_ms(sign.since);
  const RestingLevel& resting = state_.resting;
  if (!in_.reservoir || !resting.level_l) return;
  state_.level_before_l = *resting.level_l;
  state_.level_lowest_l = state_.level_mark_l = in_.reservoir->value;
  state_.level_mark_at = in_.reservoir.taken();
}

bool Step::rises() const {
  const std::optional<double> back = proof::risen(state_, in_);
  return back && *back > 2 * proof::kLevelNoiseL;
}

// The reservoir rises again, or the tray's floor is dry: whoever pumped has stopped.
bool Step::runs_back() const {
  return !in_.pump_is_on && (rises() || in_.tray_wet == FloatSeen::clear);
}

// The tray is full when its float says so; without one, when the reservoir has given most of a
// flood and stands still.
void Step::see_fill() {
  if (proof::full_for(in_, now_) >= proof::kFullFor && full_by_float()) return;
  if (proof::more_than_the_tray(table_, state_, in_, now_))
    return lost_water(because(Reason::flood_lost_water));
  const double fell = proof::fallen(state_, in_).value_or(0);
  const bool stands =
      in_.reservoir && in_.reservoir.taken() - state_.level_mark_at >= proof::kStandstill;
  const bool most = fell >= proof::kFullPart * table_.flood_volume.value;
  const bool by_level = in_.tray_full == FloatSeen::not_fitted && most;
  if (by_level && (stands || runs_back())) return filled(Reason::flood_full_by_litres);
  const Millis elapsed = now_ - state_.fill_started;
  // A floor contact or float that was never wet says nothing by being dry.
  const bool begun = state_.effect_seen || is_set(in_.tray_wet) || is_set(in_.tray_full);
  state_.effect_seen = begun;
  if (begun) state_.no_effect_alarm = false;
  const bool over = begun ? runs_back() : rises();
  if (over && !is_set(in_.tray_full))
    return end_cycle(FloodOutcome::fill_failed, because(Reason::flood_seen_short, fell));
  if (elapsed < proof::fill_limit(table_, learnt_, in_)) return;
  if (fell > proof::kLostPart * table_.flood_volume.value)
    return lost_water(proof::whereabouts(table_, state_, in_, fell, now_));
  end_cycle(FloodOutcome::fill_failed, because(Reason::flood_seen_short, fell));
}

// Another hand may soak for as long as it likes: a tray that never empties is a slow drain in the
// end.
void Step::see_soak() {
  if (proof::more_than_the_tray(table_, state_, in_, now_))
    return lost_water(because(Reason::flood_lost_water));
  const bool sinks =
      in_.tray_full == FloatSeen::clear || (in_.tray_full != FloatSeen::set && runs_back());
  if (sinks || now_ - state_.since >= limits::kSoakCeiling)
    end_cycle(FloodOutcome::running, because(Reason::none));
}

// Another hand plans no retry at which it would be asked where the water of a failed fill is.
void Step::judge_short_flood() {
  if (state_.row.outcome != FloodOutcome::fill_failed || !in_.reservoir.usable()) return;
  if (state_.row.origin == FloodOrigin::another_hand) water_is_back();
}

void Step::follow_another_hand() {
  const bool between = state_.phase == FloodPhase::idle || state_.phase == FloodPhase::rest;
  if (between) {
    follow_resting_level();
    const std::optional<Sign> sign = sign_of_water();
    // What a person at the tent pours and lifts is no flood.
    const bool begins = sign && state_.resting.no_sign && !in_.service;
    state_.resting.no_sign = !sign;
    if (state_.phase == FloodPhase::rest && (begins || now_ - state_.since >= table_.min_gap))
      judge_short_flood();
    if (begins) {
      if (state_.phase == FloodPhase::rest) settle_row();
      seen_to_begin(*sign);
    }
  }
  advance();
  // While it falls, or is not yet back, the level belongs to the flood.
  const bool falls = state_.resting.level_l && in_.reservoir &&
                     *state_.resting.level_l - in_.reservoir->value > proof::kLevelNoiseL;
  if (!falls || state_.pump_wanted || in_.pump_stands) watch_still_water();
}

FloodNews see_flood(const TablePlan& table, FloodState& state, FloodLearnt& learnt,
                    const FloodInputs& in, Instant now) {
  Step step(table, state, learnt, in, now);
  step.take_readings();
  step.follow_another_hand();
  return step.news();
}

}  // namespace neap
