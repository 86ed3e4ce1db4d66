// What became of the last commands: an output may have gone to its safe state between two scans (no
// scan renewed its lease, its driver was opened anew), a start may wait for the card, and a pump
// may do what nobody told it. Decisions, dwells and budgets stand on what is driven, not on what
// was granted.
#pragma once

#include <cstdint>

#include "daemon/core/instant.h"
#include "daemon/core/interlock.h"
#include "daemon/core/units.h"

namespace neap {

struct Driven {
  Permille level = kStopped;  // last asked of the driver
  bool proven = false;        // that write is done, and was read back where that is possible

  bool stopped() const { return proven && level == kStopped; }
};

// What the pump's contacts were told, all of them together.
enum class PumpTold : std::uint8_t {
  stopped = 0,
  tried = 1,  // one of two is open, the other still closed (pump_contacts.h)
  runs = 2,
};

// The pump against its own proof (point pump.running: current, pressure or flow). With one contact,
// a proof that has lasted ever since the pump's last run speaks of a contact that did not open; one
// that went and came back, of a hand at the switch. With two, a pump that ran on when one of them
// was opened and stopped when both were is fed by the weld of the former; one that runs with both
// open is fed by neither, and its switch is set to hand.
//
// A contact at the switch (point pump.auto, set in automatic) knows what the proof can only guess:
// out of automatic, neap drives nothing and no weld is blamed; in automatic, a pump that runs
// untold is welded, by one contact or by both.
struct PumpSays {
  FloatSeen running = FloatSeen::not_fitted;
  Instant running_since{};
  Instant running_taken{};
  FloatSeen automatic = FloatSeen::not_fitted;
  Instant automatic_since{};
  Instant automatic_taken{};
};

struct PumpProof {
  PumpSeen seen = PumpSeen::obeys;  // told to stop
  bool stands = false;              // told to run, and its proof says that it stands
  // Not seen to stand since it last ran; at a start nobody knows what it did before.
  bool ran = true;
  PumpTold told = PumpTold::stopped;
  Instant told_since{};
  Output tried = Output::pump;  // of two contacts the one that was opened last time to be tried
  bool doubted = false;         // it ran on, and what feeds it is not known yet
  // It runs untold, by a hand or by a weld: the water is none of a flood's, and moves all the same.
  bool runs_untold = false;
};

// How long the proof may take to follow the pump (hazards W2: off for 3 s).
constexpr Millis kProofFollows = seconds{3};

// The pump's new state after one more look.
PumpProof judge_pump(PumpProof before, PumpTold told, bool two_contacts, const PumpSays& says,
                     Instant now);

}  // namespace neap
