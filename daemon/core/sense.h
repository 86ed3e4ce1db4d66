// The scan's senses: samples to readings, readings to derived air.
#pragma once

#include "daemon/core/plan.h"
#include "daemon/core/scan.h"
#include "daemon/core/state.h"

namespace neap {

// Judges every fitted point; tells once when a reading is lost and once when it is back.
void take_readings(const Plan& plan, State& state, const Inputs& inputs, Instant now,
                   Events& events);

// Fills state.canopy and state.room. True when the canopy was sampled since the last scan; then the
// derived points go into `out`.
bool derive(const Plan& plan, State& state, Instant now, Outcome& out);

// A point's reading with its unit in the type.
template <class Unit>
Reading<Unit> in_unit(const State& state, Point point) {
  const auto& reading = state.points[point].reading;
  if (!reading) return Reading<Unit>::absent(reading.fault());
  return Reading<Unit>::of(Unit{*reading}, reading.quality(), reading.taken());
}

}  // namespace neap
