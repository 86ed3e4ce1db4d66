#include "daemon/core/fan_speed.h"

namespace neap {

void follow_fan(const Plan& plan, State& state, Instant now) {
  if (!drives(plan, Output::exhaust_fan) ||
      state.last.commands[Output::exhaust_fan].level == kStopped)
    state.fan_asked_since.reset();
  else if (!state.fan_asked_since)
    state.fan_asked_since = now;
}

bool fan_stands(const State& state) {
  const Reading<double>& rpm = state.points[Point::exhaust_fan_speed].reading;
  return rpm && state.fan_asked_since && rpm.taken() - *state.fan_asked_since >= kFanSpinsUp &&
         *rpm < kFanStandsBelowRpm;
}

Instant next_fan_deadline(const State& state, Instant now) {
  const Instant at = state.fan_asked_since ? *state.fan_asked_since + kFanSpinsUp : Instant::max();
  return at > now ? at : Instant::max();
}

}  // namespace neap
