// The operator's requests: each is answered in the scan that sees it, by one event. `ack` always
// succeeds; `reset` is refused while the cause persists; a hold is a lease that expires.
#pragma once

#include "daemon/core/event.h"
#include "daemon/core/plan.h"
#include "daemon/core/scan.h"

namespace neap {

struct FloodWish {  // what requests ask of the cycle in this scan
  bool start = false;
  bool stop = false;
  std::uint32_t start_id = 0;
};

// Carries out all requests but a flood's start, which the cycle itself answers (answer_start). The
// button at the tent asks as anybody does.
FloodWish answer_requests(const Plan& plan, State& state, const Inputs& inputs, Instant now,
                          Events& events);
void answer_start(std::uint32_t id, bool started, Because why, Events& events);

// Ends holds and reminds of a service that has lasted too long.
void expire_leases(State& state, Instant now, Events& events);
void push_holds(const State& state, Demands& demands);
Instant next_lease_deadline(const State& state);

}  // namespace neap
