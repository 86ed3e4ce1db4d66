// A part that asks for the pump against the interlocks (hazards X6). Before it asks, every part is
// told whether a trip stands; one that asks all the same is wrong in itself, and may be wrong
// elsewhere too. It is denied like anything else, told, and after the third time in an hour the
// daemon trusts itself no more: the shell puts it in safe mode.
#pragma once

#include "daemon/core/image.h"
#include "daemon/core/state.h"

namespace neap {

constexpr Millis kDenialWindow = minutes{60};
constexpr int kDenialsToDistrust = static_cast<int>(Denials{}.at.size());

// `tripped`: a trip stood before any part was asked. True when this scan's denial is the third in
// an hour; they are counted afresh then.
bool note_denials(Denials& denials, const Demands& demands, bool tripped, Instant now);

// One was denied within the hour.
bool denied_of_late(const Denials& denials, Instant now);
// When that changes by time alone; Instant::max() when it does not.
Instant next_denial_deadline(const Denials& denials, Instant now);

}  // namespace neap
