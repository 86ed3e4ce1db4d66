// Whether the band is out of reach, and what would cure it: an advice to the owner, for any law.
//
// Two witnesses. The model (reach.h) is asked every five minutes, and believed from the fourth time
// in a row that it finds the same. And the facts, where the room is not read or the model sees a
// way that does not work: every means in use for twenty minutes without effect.
#pragma once

#include "daemon/core/climate.h"

namespace neap {

struct LimitsInForce {
  bool too_warm = false;
  bool moistens = false;  // venting does
};

// After the law has decided. Writes binding, diagnosis and cures of `ask`, unless the law has said
// what binds, and names in decide_again when it wants to be asked.
void diagnose(const ClimateView& view, const LimitsInForce& limits, LawMemory& memory,
              ClimateAsk& ask);

// Without a usable reading nothing is found, and the counting starts again.
void forget_diagnosis(LawMemory& memory);

}  // namespace neap
