// What is learnt between floods: of a pump that runs by hand, and of a reservoir that should stand
// still while no pump runs.
#pragma once

#include "daemon/core/flood.h"

namespace neap {

// With the pump stopped, water can only come back. What leaves the reservoir then leaves it by a
// way that nobody planned: a hose that siphons, a fitting. So much within an hour is more than
// evaporation, a probe's noise and a sample for the meter (common practice, no source).
constexpr double kFallsAtRestL = 2.0;
// Up to this much the balance counts as flat.
constexpr double kFlatL = 1.0;
// Hose and tray settle this long after the pump stopped (hazards W12).
constexpr Millis kSettleTime = seconds{10};

// A hold of the pump between floods proves it as well as a flood does.
void watch_held_pump(const TablePlan& table, FloodState& state, const FloodInputs& in, Instant now);

// How far the reservoir has fallen, in litres, when that is too far: once, then from there anew.
std::optional<double> falls_at_rest(FloodState& state, const FloodInputs& in, Instant now);
// The reservoir stands where it stood an hour ago, and can be read.
bool balance_is_flat(const FloodState& state, const Reading<Litres>& reservoir);

}  // namespace neap
