// The guarded step test: a short sequence of levels that a person asks for, so that the journal
// holds answers of the tent to one change at a time (daemon/identify weighs them; control.md 4.4).
//
//   exhaust fan    in the light: 10 min low (30 %), 10 min high (80 %), 10 min low
//   dehumidifier   in the dark: fan at 40 %; 15 min stopped, 15 min running, twice
//
// Fan levels stay within the fan's floor, ceiling and quiet ceiling; a dehumidifier's step is never
// shorter than its dwells. What else dries or moistens the tent's air is stopped meanwhile. The
// sequence only asks, with precedence `sequence`: holds, interlocks, dwells and slew stand over it.
//
// It starts, and goes on, only while nothing speaks against it: canopy read, air away from its
// limits, no alarm over advisory rank, no service, no hold on what it moves, no light edge and no
// flood near. The first of these to fail ends it in that scan, and the climate law has the outputs
// again. Nothing of it survives a restart but the word that it was cut off.
#pragma once

#include "daemon/core/event.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

// Starts a test of `output` (exhaust fan or dehumidifier). Reason::none when it has begun, else why
// not. `safe_mode`: every output is kept safe.
Because begin_step_test(const Plan& plan, State& state, Output output, bool safe_mode, Instant now,
                        Events& events);

// Ends the test under way by a person's word; Reason::step_test_not_running when there is none.
Because stop_step_test(State& state, Events& events);

// Ends it when it is over or may not go on; while it runs, asks for the levels of its step.
void ask_step_test(const Plan& plan, State& state, bool safe_mode, Instant now, Demands& demands,
                   Events& events);

// Tells of the one that a restart cut off.
void close_step_test(State& state, Events& events);

// When ask_step_test() has something to do next; Instant::max() without a test. A second from now
// when something has come to speak against it.
Instant next_step_test_deadline(const Plan& plan, const State& state, bool safe_mode, Instant now);

// Where the test is: for status and for the demands. Of no use without a test under way.
struct StepTestView {
  int step = 1;  // 1..steps
  int steps = 1;
  Permille fan = kStopped;
  bool dehumidifier_runs = false;
  Instant step_ends{};
  Instant ends{};
};
StepTestView view_step_test(const StepTest& test, Instant now);

}  // namespace neap
