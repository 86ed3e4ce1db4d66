// The arbiter: demands to commands. The only writer of the output image. Order: the highest
// precedence wins, quiet hours and the plan bound its level, the interlock verdict forces or
// forbids, dwells delay, slew limits. A trip passes over dwells and slew.
#pragma once

#include "daemon/core/image.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

// Grants one command an output; what is in another hand is judged alike (image.would) and granted
// to nobody. `image` holds the last scan's commands on entry and this scan's on
// return; dwells in `state` are updated where a level changed. Every lease is renewed.
void arbitrate(const Plan& plan, State& state, const Demands& demands, const Verdicts& verdicts,
               bool quiet, Instant now, OutputImage& image);

// The next instant at which a waiting dwell or a slewing level changes a command; max() when none.
Instant next_arbiter_deadline(const Plan& plan, const State& state, const OutputImage& image,
                              Instant now);

// A slewing level moves on this grid, so that its steps do not depend on how often scans come.
constexpr Millis kSlewStep = seconds{10};

}  // namespace neap
