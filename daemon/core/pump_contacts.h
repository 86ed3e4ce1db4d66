// The pump's two contacts in series (D-022), where a second one is fitted: output `pump` and output
// `pump_series`. The pump has current only through both. Both close together, and whatever trips
// the pump opens both at once. An ordinary stop opens one of them, by turns, and the other as soon
// as pump.running says that the pump stands: so each of them breaks the current every other time,
// and is seen to. One that does not is found while the other is still there to open. A pump that
// runs on with both open has its current from elsewhere: its switch is set to hand.
#pragma once

#include "daemon/core/image.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

// What the levels of `pump` and `pump_series` make of the pump; the latter counts where it is
// fitted.
PumpTold pump_told(const Plan& plan, Permille pump, Permille series);
PumpTold pump_told(const Plan& plan, const OutputImage& image);
// Has the pump current, as the image has it?
bool pump_runs(const Plan& plan, const OutputImage& image);

// The contact that is tried, or was tried last: 1 is output pump, 2 is output pump_series.
double number_of_tried(const State& state);

// A trial is under way, or what it found is not settled: no start before it is over.
bool contacts_are_tried(const State& state);

// After the arbiter: the second contact follows the pump's command, and a stop that nothing hurries
// tries one of the two.
void join_contacts(const Plan& plan, State& state, Instant now, OutputImage& granted);

// A trial takes this long at most: the time the proof needs to follow (kProofFollows) and a scan.
constexpr Millis kContactTrial = seconds{4};

}  // namespace neap
