// Dwells: minimum on and off times and starts an hour of two-position devices, kept across
// restarts.
#pragma once

#include "daemon/core/climate.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

// Why a change to `wanted` must wait; Reason::none when it may happen now.
Because dwell_forbids(const OutputPlan& plan, const Dwell& dwell, Permille now_level,
                      Permille wanted, Instant now);
// When the change becomes legal; `now` or earlier when it already is.
Instant dwell_permits_at(const OutputPlan& plan, const Dwell& dwell, bool start, Instant now);
void note_change(Dwell& dwell, bool started, Instant now);
LegalMove legal_move(const OutputPlan& plan, const Dwell& dwell, Permille level, bool quiet,
                     Instant now);

}  // namespace neap
