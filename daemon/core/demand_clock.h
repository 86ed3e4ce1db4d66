// The demand's clock in the scan (demand.h has its arithmetic): moved by tick, set back by water.
// It runs in every stage, so that one that floods by demand begins with what is true.
#pragma once

#include <optional>

#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

bool floods_by_demand(const Plan& plan, const State& state);

// Moves the clock to `now`. `away`: an outage that has just become known.
void follow_demand(const Plan& plan, State& state, Millis away, Instant now);
// A flood has filled the tray.
void demand_met(State& state, Instant now);
// A flood has begun, or its slot is used up: the next comes `no_sooner` after this at the soonest.
void demand_taken(State& state, Instant now);

// What is used of the amount and when that will be a flood; none in a stage without, while the time
// of day is not known, and where no flood may begin.
struct DemandOutlook {
  double used_kpa_h = 0;
  double amount_kpa_h = 0;
  CivilTime expected;
  CivilTime latest;
  bool blind = false;  // no VPD to go by: at `latest`
};
std::optional<DemandOutlook> demand_outlook(const Plan& plan, const State& state);

// The flood is due, and no slot stands open for it yet.
bool demand_comes_due(const Plan& plan, const State& state);
// Opens the slot of a flood that has become due.
void open_demand_slot(State& state, SlotId id);

// When it comes due, if the air stays as it is.
Instant next_demand_deadline(const Plan& plan, const State& state);

}  // namespace neap
