// The board's own supply (point board.undervoltage): a pump that draws it down
// takes the board with it, and what reboots in mid-flood floods blind. So no
// pump starts while it is low, nor in the minute after; and a supply that sags
// again and again when the pump starts is told.
#pragma once

#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

// The minute after, and how soon a sag belongs to the pump's start: inrush is
// over in a second, and a polled contact is read within seconds (common
// practice, no source; hazards PWR4: 60 s).
constexpr Millis kSupplyRests = seconds{60};
constexpr Millis kSagBelongsFor = seconds{5};

// After watch_pump of the same scan.
void watch_supply(const Plan& plan, State& state, Instant now);

bool supply_is_low(const State& state, Instant now);
// Starts of the pump that drew it down in the last 24 h, kSagsTold + 1 at most.
int sags_of_the_day(const SupplySags& sags, Instant now);
// When the minute is over, or a sag leaves its day; Instant::max() when neither
// comes.
Instant next_supply_deadline(const State& state, Instant now);

}  // namespace neap
