#include "daemon/core/driven.h"

namespace neap {
namespace {

// Every contact is open, and the proof has had its time.
void judge_stopped(PumpProof& pump, bool two_contacts, bool turning) {
  if (turning) {
    if (pump.seen == PumpSeen::obeys)
      pump.seen = pump.ran && !two_contacts ? PumpSeen::welded : PumpSeen::in_hand;
  } else {
    pump.seen = pump.doubted ? PumpSeen::welded : PumpSeen::obeys;
    pump.ran = false;
  }
  pump.doubted = false;
}

}  // namespace

PumpProof judge_pump(PumpProof pump, PumpTold told, bool two_contacts, FloatSeen proof,
                     Instant taken, Instant now) {
  if (told != pump.told) {
    pump.told = told;
    pump.told_since = now;
  }
  if (told == PumpTold::runs) pump.ran = true;
  pump.stands = false;
  const bool said = proof == FloatSeen::clear || proof == FloatSeen::set;
  if (!said || taken - pump.told_since < kProofFollows) return pump;
  const bool turning = proof == FloatSeen::set;
  switch (told) {
    case PumpTold::runs:
      pump.stands = !turning;
      break;
    case PumpTold::tried:
      pump.doubted = turning;
      pump.ran = turning;
      break;
    case PumpTold::stopped:
      judge_stopped(pump, two_contacts, turning);
      break;
  }
  return pump;
}

}  // namespace neap
