// The exhaust fan's own word (point exhaust_fan.speed, from its tachometer): a fan that is driven
// and stands is known in seconds, where the air needs a quarter of an hour to tell
// (device_doubt.h). The climate law goes on at once with a fan that moves no air.
#pragma once

#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

// Choices, no source: a fan of 150 mm is at speed in a few seconds, and a box fan's least speed is
// several hundred turns a minute.
constexpr Millis kFanSpinsUp = seconds{10};
constexpr double kFanStandsBelowRpm = 100;

// Remembers since when neap has driven the fan; what another hand does with it is its own.
void follow_fan(const Plan& plan, State& state, Instant now);

bool fan_stands(const State& state);

Instant next_fan_deadline(const State& state, Instant now);

}  // namespace neap
