#include "daemon/core/flood_still.h"

#include "daemon/core/flood_proof.h"

namespace neap {
namespace {

constexpr Millis kStillFor = hours{1};

}  // namespace

void watch_held_pump(const TablePlan& table, FloodState& state, const FloodInputs& in,
                     Instant now) {
  const bool between = state.phase == FloodPhase::idle || state.phase == FloodPhase::rest;
  const bool runs = between && in.pump_is_on;
  if (runs && !state.held_run) {
    state.held_since = now;
    state.held_level_l.reset();
    if (in.reservoir) state.held_level_l = in.reservoir->value;
  }
  state.held_run = runs;
  if (!runs || !state.no_effect_alarm) return;
  const proof::Run run{state.held_since, state.held_level_l};
  if (proof::pump_effect(table, run, in, now) == proof::Effect::moved)
    state.no_effect_alarm = false;
}

std::optional<double> falls_at_rest(FloodState& state, const FloodInputs& in, Instant now) {
  StillWater& still = state.still;
  if (!still.from || in.pump_is_on || state.pump_wanted || in.service || in.leak_known) {
    still = StillWater{now, std::nullopt, now};
    return std::nullopt;
  }
  if (in.reservoir.quality() != Quality::good) return std::nullopt;
  if (in.reservoir.taken() < *still.from + kSettleTime) return std::nullopt;
  const double level = in.reservoir->value;
  const std::optional<double> before = still.level_l;
  const bool old = now - still.level_at >= kStillFor;
  if (before && level < *before && !old && *before - level <= kFallsAtRestL) return std::nullopt;
  still.level_l = level;
  still.level_at = now;
  if (!before || *before - level <= kFallsAtRestL) return std::nullopt;
  return *before - level;
}

bool balance_is_flat(const FloodState& state, const Reading<Litres>& reservoir) {
  return reservoir.usable() && state.still.level_l &&
         *state.still.level_l - reservoir->value <= kFlatL;
}

}  // namespace neap
