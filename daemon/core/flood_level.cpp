#include "daemon/core/flood_level.h"

#include <algorithm>

#include "daemon/core/flood_proof.h"

namespace neap {
namespace {

void take_top_up(FloodState& state, const Reading<Litres>& reservoir) {
  const bool again = reservoir.taken() == state.level_read_at;
  // Another hand stops its pump untold: what rises then runs back.
  const bool ours = state.row.origin != FloodOrigin::another_hand;
  if (again || !ours || !state.pump_wanted || !state.level_before_known) return;
  state.level_read_at = reservoir.taken();
  const double above = reservoir->value - state.level_lowest_l;
  const std::optional<double> before = state.level_above_l;
  state.level_above_l.reset();
  if (above < kTopUpL) return;
  state.level_above_l = above;
  if (!before) return;
  // The pump has taken from it since the first reading, which the second one bears out.
  const double poured = above >= *before / 2 ? std::max(*before, above) : above;
  state.level_before_l += poured;
  state.level_lowest_l += poured;
  state.level_mark_l += poured;
  if (state.level_full_l) *state.level_full_l += poured;
  state.level_mark_at = reservoir.taken();
  state.effect_from = reservoir.taken();
  state.level_above_l.reset();
}

}  // namespace

void follow_level(FloodState& state, const FloodInputs& in) {
  if (!in.reservoir) return;
  take_top_up(state, in.reservoir);
  state.level_lowest_l = std::min(state.level_lowest_l, in.reservoir->value);
  if (in.reservoir->value < state.level_mark_l - proof::kLevelNoiseL) {
    state.level_mark_l = in.reservoir->value;
    state.level_mark_at = in.reservoir.taken();
  }
  if (state.phase == FloodPhase::drain && !proof::came_back(state, in, proof::kDrainedPart))
    state.not_back_at = in.reservoir.taken();
}

}  // namespace neap
