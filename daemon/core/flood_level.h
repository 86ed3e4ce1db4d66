// The reservoir's level through a cycle: where it was lowest, when it last fell, what was poured in
// meanwhile.
#pragma once

#include "daemon/core/flood.h"

namespace neap {

// Pumping only lowers the reservoir. What stands this much higher than before, by two readings in a
// row, was poured in; one reading alone may be a splash or a probe's slip (common practice, no
// source).
constexpr double kTopUpL = 1.0;

// Takes the step's level reading. A top-up while the pump is wanted moves the figures that the
// flood is judged by, so that what the pump took remains what it took.
void follow_level(FloodState& state, const FloodInputs& in);

}  // namespace neap
