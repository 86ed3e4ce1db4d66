#include "daemon/core/flood_proof.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/limits.h"

namespace neap::proof {
namespace {

Millis scaled(Millis time, double by) {
  return Millis{std::llround(static_cast<double>(time.count()) * by)};
}

double part_of_flood(const TablePlan& table, const FloodInputs& in) {
  return in.depth == Depth::by_litres ? in.litres / table.flood_volume : 1.0;
}

Millis pumping_time(const TablePlan& table, double litres) {
  return Millis{std::llround(litres / table.pump_l_per_h * 3'600'000.0)};
}

// For how long the pump has run since the level was read.
Millis pumped_since(const FloodState& state, const FloodInputs& in, Instant now) {
  return now - std::max(in.reservoir.taken(), state.fill_started);
}

double pumped_l(const TablePlan& table, Millis time) {
  return table.pump_l_per_h * static_cast<double>(time.count()) / 3'600'000;
}

// The level reading is late enough that a pump at half its rating would show in it.
bool level_can_tell(const TablePlan& table, const Run& run, const FloodInputs& in) {
  if (!run.level_l || !in.reservoir) return false;
  const Millis needed = std::max(kPrimeTime, pumping_time(table, 2 * kLevelNoiseL));
  return in.reservoir.taken() - run.began >= needed;
}

}  // namespace

std::optional<double> fallen(const FloodState& state, const FloodInputs& in) {
  if (!state.level_before_known || !in.reservoir) return std::nullopt;
  return state.level_before_l - in.reservoir->value;
}

std::optional<double> level_now(const TablePlan& table, const FloodState& state,
                                const FloodInputs& in, Instant now) {
  if (!in.reservoir) return std::nullopt;
  return in.reservoir->value - pumped_l(table, pumped_since(state, in, now));
}

std::optional<double> risen(const FloodState& state, const FloodInputs& in) {
  if (!state.level_before_known || !in.reservoir) return std::nullopt;
  return in.reservoir->value - state.level_lowest_l;
}

bool came_back(const FloodState& state, const FloodInputs& in, double part) {
  const std::optional<double> back = risen(state, in);
  if (!back || in.reservoir.taken() < state.since) return false;
  const double out = state.level_before_l - state.level_lowest_l;
  return *back >= part * out - kLevelNoiseL;
}

std::optional<Millis> learnt_fill(const TablePlan& table, const FloodLearnt& learnt,
                                  const FloodInputs& in) {
  if (learnt.fills < kEnoughFills) return std::nullopt;
  return scaled(learnt.fill, part_of_flood(table, in));
}

Millis timed_fill(const TablePlan& table, const FloodLearnt& learnt, const FloodInputs& in) {
  return learnt_fill(table, learnt, in).value_or(pumping_time(table, in.litres.value));
}

std::optional<Millis> slow_fill(const TablePlan& table, const FloodLearnt& learnt,
                                const FloodInputs& in) {
  const std::optional<Millis> usual = learnt_fill(table, learnt, in);
  if (!usual) return std::nullopt;
  return scaled(*usual, limits::kFillAlarmRatio);
}

Millis shortened_fill(const FloodLearnt& learnt) { return scaled(learnt.fill, kShortenedPart); }

Millis fill_limit(const TablePlan& table, const FloodLearnt& learnt, const FloodInputs& in) {
  const Millis hard = std::min<Millis>(table.fill_limit, limits::kFillCeiling);
  const std::optional<Millis> usual = learnt_fill(table, learnt, in);
  if (!usual) return hard;
  return std::min(hard, std::max(scaled(*usual, limits::kFillStopRatio), *usual + kFillGrace));
}

bool pump_holds_soak(const TablePlan& table) { return table.drain_path != DrainPath::drain_valve; }

Millis soak_time(const TablePlan& table, const FloodInputs& in) {
  if (in.depth == Depth::by_litres && pump_holds_soak(table)) return Millis{0};
  return std::min({in.soak, table.soak_limit, Millis{limits::kSoakCeiling}});
}

Effect pump_effect(const TablePlan& table, const Run& run, const FloodInputs& in, Instant now) {
  if (in.tray_wet == FloatSeen::set || in.tray_full == FloatSeen::set) return Effect::moved;
  if (now - run.began < limits::kNoEffectAfter) return Effect::undecided;
  if (run.level_l) {
    if (!level_can_tell(table, run, in)) return Effect::undecided;
    const double fell = *run.level_l - in.reservoir->value;
    return fell < kLevelNoiseL ? Effect::nothing : Effect::moved;
  }
  return in.tray_wet == FloatSeen::clear ? Effect::nothing : Effect::undecided;
}

Because whereabouts(const TablePlan& table, const FloodState& state, const FloodInputs& in,
                    double fell, Instant now) {
  const bool in_the_tray = in.tray_wet != FloatSeen::clear;
  const bool stands = in.reservoir && in.reservoir.taken() - state.level_mark_at >= kStandstill;
  if (in_the_tray && stands && fell >= kFullPart * table.flood_volume.value)
    return because(Reason::flood_float_silent, fell);
  const double rated = table.pump_l_per_h;
  const double hours_on = static_cast<double>((now - state.fill_started).count()) / 3'600'000;
  const double part = fell / (rated * hours_on);
  if (in_the_tray && !stands && part < kWeakPart)
    return because(Reason::flood_pump_weak, 100 * part);
  return because(Reason::flood_lost_water);
}

// A level is as old as its probe is slow: what the pump can have moved since counts as gone too, at
// half as much again as its rating. Dry medium takes more than a flood, wet medium a little less.
Full full_by_float(const TablePlan& table, const FloodState& state, const FloodLearnt& learnt,
                   const FloodInputs& in, Instant now) {
  constexpr double kHalf = 0.5;
  constexpr double kFastest = 1.5;
  if (const std::optional<double> fell = fallen(state, in)) {
    const double moved = kFastest * pumped_l(table, pumped_since(state, in, now));
    const double whole = in.depth == Depth::by_litres ? in.litres.value : table.flood_volume.value;
    const bool early = *fell + moved < kHalf * whole;
    return early ? Full::against_the_level : Full::credible;
  }
  const bool known = learnt.fills >= kEnoughFills;
  const bool early = known && now - state.fill_started < scaled(learnt.fill, kHalf);
  return early ? Full::against_the_time : Full::credible;
}

Millis full_for(const FloodInputs& in, Instant now) {
  return in.full_since ? now - *in.full_since : Millis{0};
}

bool more_than_the_tray(const TablePlan& table, const FloodState& state, const FloodInputs& in,
                        Instant now) {
  const std::optional<double> fell = fallen(state, in);
  const double most = std::min(kMoreThanTheTray * table.tray_capacity.value,
                               kMoreThanAFlood * table.flood_volume.value);
  const std::optional<Instant> at = room_used_at(table, state, in);
  return (fell && *fell > most) || (at && now >= *at);
}

// A reading of this soak that fell by what the pump moves, or by half of it, says that nothing
// comes back, and the pump takes more until the next one; by one that stood, nothing goes.
std::optional<Instant> room_used_at(const TablePlan& table, const FloodState& state,
                                    const FloodInputs& in) {
  const bool holds = state.phase == FloodPhase::soak && state.pump_wanted;
  if (!holds || !state.level_full_l || !in.reservoir) return std::nullopt;
  const double room = std::max(table.tray_capacity.value - table.flood_volume.value,
                               kLeastRoom * table.flood_volume.value);
  const double fell = *state.level_full_l - in.reservoir->value;
  const Instant taken = in.reservoir.taken();
  if (fell > room) return taken;
  const bool falls = taken > state.since && fell > pumped_l(table, taken - state.since) / 2;
  const Millis left = pumping_time(table, room - fell);
  if (!falls || left > kLongestGuess) return std::nullopt;
  return taken + left;
}

bool tray_may_hold_water(const FloodInputs& in) {
  const auto dry = [](FloatSeen seen) {
    return seen == FloatSeen::clear || seen == FloatSeen::not_fitted;
  };
  return !dry(in.tray_full) || !dry(in.tray_wet);
}

Millis timed_drain(const TablePlan& table, const FloodState& state) {
  return state.row_open ? table.drain_limit * 2 / 3 : table.drain_limit;
}

Drained drained(const TablePlan& table, const FloodState& state, const FloodInputs& in,
                Instant now) {
  const bool blind = in.tray_full == FloatSeen::unknown && !state.by_time;
  if (in.tray_full == FloatSeen::set || blind) return Drained::no;
  const bool by_level = came_back(state, in, kDrainedPart);
  switch (in.tray_wet) {
    case FloatSeen::clear:
      return Drained::seen;
    case FloatSeen::set:
      return Drained::no;
    case FloatSeen::unknown:
      return by_level ? Drained::seen : Drained::no;
    case FloatSeen::not_fitted:
      break;
  }
  if (by_level) return Drained::seen;
  const Millis elapsed = now - state.since;
  if (!state.level_before_known)
    return elapsed >= timed_drain(table, state) ? Drained::by_time : Drained::no;
  const bool lost = !in.reservoir;
  const bool seen_full = state.not_back_at - state.since >= timed_drain(table, state);
  return lost && !seen_full && elapsed >= table.drain_limit ? Drained::by_time : Drained::no;
}

}  // namespace neap::proof
