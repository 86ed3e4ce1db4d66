// Heater and chiller in the reservoir: two positions against the stage's band of the water's
// temperature (C). The heater starts under the low edge and stops a differential above it, the
// chiller starts over the high edge and stops a differential below it; never both. Level, leak and
// the hottest water are not this loop's matter: the interlock kernel guards them under whoever asks
// (interlock.cpp), and a compressor's rest is the arbiter's (dwell.h).
#pragma once

#include "daemon/core/image.h"
#include "daemon/core/interlock.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

// For the kernel: the hottest is left again by a margin, and a probe that is lost is no cold water.
WaterSeen water_seen(const Plan& plan, const State& state);

// Asks for both. Without a band or a good reading, and while nothing grows, it asks them to stop.
void ask_water(const Plan& plan, const State& state, Demands& demands);

// Why nobody may start this one: the other one runs, or is held running. Nothing when it may.
Because other_tempers(const Plan& plan, const State& state, Output output);

// The band beyond which the water's temperature is news: an edge that a device of neap's holds is
// passed by its differential in each of its cycles.
Range watched_water(const Plan& plan, Range band);

}  // namespace neap
