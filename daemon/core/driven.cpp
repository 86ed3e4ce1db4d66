#include "daemon/core/driven.h"

namespace neap {

PumpProof judge_pump(PumpProof pump, bool runs, FloatSeen proof, Instant taken, Instant now) {
  if (runs != pump.told_to_run) {
    pump.told_to_run = runs;
    pump.told_since = now;
  }
  if (runs) pump.ran = true;
  pump.stands = false;
  const bool said = proof == FloatSeen::clear || proof == FloatSeen::set;
  if (!said || taken - pump.told_since < kProofFollows) return pump;
  const bool turning = proof == FloatSeen::set;
  pump.stands = runs && !turning;
  if (runs) return pump;
  if (!turning) {
    pump.ran = false;
    pump.seen = PumpSeen::obeys;
  } else if (pump.seen == PumpSeen::obeys) {
    pump.seen = pump.ran ? PumpSeen::welded : PumpSeen::in_hand;
  }
  return pump;
}

}  // namespace neap
