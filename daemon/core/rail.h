// The supply of the sensors (output sensor_rail): some sensors come back only
// when their supply was taken away for a moment (hazards S1, S5, S10). When all
// points that hang on it have been silent for half a minute, or one of them for
// five, it is switched off for 5 s and on again, and its sensors have 10 s to
// wake; what they say meanwhile is not listened to, and no pump runs. It is
// tried again after 10 min, then after twice as long each time, 6 h at most.
// Never while water is under way or a leak probe is wet.
#pragma once

#include "daemon/core/image.h"
#include "daemon/core/interlock.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

// Half a minute on top of the age that makes a reading bad; five are beyond the
// hub's back-off. A chip is reset within a second without supply and answers
// within seconds of it (common practice, no source).
constexpr Millis kRailAllSilent = seconds{30};
constexpr Millis kRailOneSilent = minutes{5};
constexpr Millis kRailOff = seconds{5};
constexpr Millis kRailSettles = seconds{10};
constexpr Millis kRailWaits = minutes{10};
constexpr Millis kRailWaitsMost = hours{6};

// Does the point hang on it, and is it off or its sensors not yet awake?
bool rail_suspends(const Plan& plan, const State& state, Point point);
bool rail_is_cycling(const State& state);

// Moves the cycle on; after the readings of the scan. `leak` is the worst of
// the leak probes.
void follow_rail(const Plan& plan, State& state, LeakSeen leak, Instant now);
// Asks for the supply to be off while the cycle wants it so.
void ask_rail(const State& state, Demands& demands);

// It was cycled twice or more, and a sensor is still silent.
bool rail_helps_not(const State& state);
// The next step of a cycle, or the next moment at which one may begin;
// Instant::max() when none.
Instant next_rail_deadline(const State& state, Instant now);

}  // namespace neap
