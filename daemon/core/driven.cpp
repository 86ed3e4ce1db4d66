#include "daemon/core/driven.h"

#include <algorithm>

namespace neap {
namespace {

bool readable(FloatSeen seen) { return seen == FloatSeen::clear || seen == FloatSeen::set; }

// Contacts, proof and switch have had their time to follow each other. Proof and switch may be read
// seconds apart: what one says counts once the other was read that much later.
bool settled(const PumpProof& pump, const PumpSays& says) {
  if (says.automatic != FloatSeen::set)
    return says.running_taken - pump.told_since >= kProofFollows;
  const Instant moved = std::max({pump.told_since, says.automatic_since, says.running_since});
  return std::min(says.running_taken, says.automatic_taken) - moved >= kProofFollows;
}

// Every contact is open, and the proof has had its time.
void judge_stopped(PumpProof& pump, bool two_contacts, bool in_automatic, bool turning) {
  if (!turning) {
    pump.seen = pump.doubted ? PumpSeen::welded : PumpSeen::obeys;
    pump.ran = false;
  } else if (in_automatic) {
    pump.seen = PumpSeen::welded;
  } else if (pump.seen != PumpSeen::welded && pump.seen != PumpSeen::in_hand) {
    pump.seen = pump.ran && !two_contacts ? PumpSeen::welded : PumpSeen::in_hand;
  }
  pump.doubted = false;
}

void judge_told(PumpProof& pump, bool two_contacts, const PumpSays& says) {
  const bool turning = says.running == FloatSeen::set;
  switch (pump.told) {
    case PumpTold::runs:
      pump.stands = !turning;
      return;
    case PumpTold::tried:
      pump.doubted = turning;
      pump.ran = turning;
      return;
    case PumpTold::stopped:
      judge_stopped(pump, two_contacts, says.automatic == FloatSeen::set, turning);
      pump.runs_untold = turning;
      return;
  }
}

// The switch is known to be off or in hand: the proof says which, and blames no contact of neap's.
void stand_aside(PumpProof& pump, const PumpSays& says) {
  const bool turning = says.running == FloatSeen::set;
  pump.seen = PumpSeen::off_auto;
  pump.doubted = false;
  pump.runs_untold = turning && pump.told == PumpTold::stopped;
  if (says.running == FloatSeen::clear) pump.ran = false;
}

}  // namespace

PumpProof judge_pump(PumpProof pump, PumpTold told, bool two_contacts, const PumpSays& says,
                     Instant now) {
  if (told != pump.told) {
    pump.told = told;
    pump.told_since = now;
  }
  if (told == PumpTold::runs) pump.ran = true;
  pump.stands = false;
  if (told != PumpTold::stopped || says.running != FloatSeen::set) pump.runs_untold = false;
  if (says.automatic == FloatSeen::clear) {
    stand_aside(pump, says);
    return pump;
  }
  if (!readable(says.running)) {
    if (pump.seen == PumpSeen::off_auto) pump.seen = PumpSeen::obeys;
  } else if (settled(pump, says)) {
    judge_told(pump, two_contacts, says);
  }
  if (says.automatic == FloatSeen::unknown && pump.seen == PumpSeen::obeys)
    pump.seen = PumpSeen::off_auto;
  return pump;
}

}  // namespace neap
