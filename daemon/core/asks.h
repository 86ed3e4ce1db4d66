// What the schedule, the flood cycle and the climate law ask for in one scan. They only push
// demands.
#pragma once

#include "daemon/core/conditions.h"
#include "daemon/core/operator.h"
#include "daemon/core/scan.h"

namespace neap {

// As granted, or of what is in another hand as it would have been.
Permille level_of(const Plan& plan, const State& state, Output output);

// Light by the photoperiod, air pump and circulation fan always, a fan floor while fallow.
void ask_schedule(const Plan& plan, const State& state, bool time_known, Demands& demands);

FloodInputs flood_inputs(const Plan& plan, const State& state, const Seen& seen);
// Runs the cycle: slots, the operator's wish, and the rows it closes.
FloodNews ask_flood(const Plan& plan, State& state, const Seen& seen, const FloodWish& wish,
                    Instant now, Demands& demands, Events& events);
// Closes the cycle that a restart cut off.
void close_interrupted(const Plan& plan, State& state, Instant now, Events& events);

void ask_climate(const Plan& plan, const ClimateLaw& law, State& state, bool new_sample,
                 Instant now, Demands& demands);

}  // namespace neap
