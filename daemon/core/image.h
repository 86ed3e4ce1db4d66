// What the parts ask for and what was granted. Loops, the flood sequence, the schedule and the
// operator only push demands; the arbiter alone turns them into one command an output.
#pragma once

#include <cstdint>

#include "daemon/core/fixed.h"
#include "daemon/core/instant.h"
#include "daemon/core/outputs.h"
#include "daemon/core/reason.h"

namespace neap {

// Further down wins. Nothing is above an interlock.
enum class Precedence : std::uint8_t {
  safe_default = 0,
  schedule = 1,
  loop = 2,
  sequence = 3,
  operator_hold = 4,
  interlock = 5,
};

struct Demand {
  Output output = Output::pump;
  Permille level = kStopped;
  Precedence precedence = Precedence::safe_default;
  Because because;
  Blink blink = Blink::steady;
};
using Demands = FixedVector<Demand, 56>;

// One a scan and output. Away from the safe state it is a lease: the gate lets it lapse to the safe
// state at `until` unless a later scan renews it.
struct Command {
  Permille level = kStopped;
  Precedence precedence = Precedence::safe_default;
  Because because;             // why this level
  Permille wanted = kStopped;  // what the winning demand asked before permissives and dwells
  Because wanted_because;
  Instant until{};
  Blink blink = Blink::steady;
  friend constexpr bool operator==(const Command&, const Command&) = default;
};

struct OutputImage {
  PerOutput<Command> commands;
  PerOutput<bool> driven{};  // false: in another hand or not fitted; the gate writes its safe level
  PerOutput<Command> would;  // of what is in another hand: what neap would have granted
};

}  // namespace neap
