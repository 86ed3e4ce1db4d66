// What lamp and buzzer at the tent say, so that a glance is enough: a lamp that is lit says that
// all is well, a slow blink that floods are held, a fast one that a latch or an alarm of high
// priority calls for a person, a dark one that neapd does not run. Under a pressed button it goes
// out once the press is long enough for a flood: now let go. The buzzer sounds for what nobody has
// acknowledged: for water, welds and wilting roots at any hour, for the rest outside of quiet
// hours.
#pragma once

#include "daemon/core/image.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

void ask_signals(const Plan& plan, const State& state, bool safe_mode, Instant now,
                 Demands& demands);

// Lamp and buzzer say something else than was last granted: alarms come after the demands in a
// scan, and the next one shows them.
bool signals_lag(const Plan& plan, const State& state, bool safe_mode, Instant now);

}  // namespace neap
