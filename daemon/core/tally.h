// Book-keeping of a photoperiod day (lights-on to lights-on) and of the VPD dip of each flood.
// Nothing here decides anything; it counts what the last scan granted over the time until this one.
#pragma once

#include "daemon/core/event.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

// Adds the interval since the last scan, with that scan's outputs, VPD and targets. Call before
// anything of this scan changes them.
void tally_interval(const Plan& plan, State& state, Instant now);
// Counts the changes between the last scan's commands and this one's.
void tally_changes(State& state, const OutputImage& granted);
// A cycle's litres, once it has settled.
void tally_litres(DayTally& tally, const CycleRow& row);
// Closes the day when a new photoperiod has begun.
void turn_day(State& state, Instant now, Events& events);

// The VPD that the band speaks of; absent without the readings for it.
const Reading<Kilopascal>& banded_vpd(const State& state);

// Follows the air through a flood. A start begins a dip; cycle_settled is emitted when the tray has
// rested and the VPD is back in the band (or at kDipLongest, or when the next flood begins).
constexpr Millis kDipLongest = minutes{90};
void mean_vpd(State& state, bool new_sample, Instant now);
void follow_dip(State& state, const FloodNews& news, bool pump_running, Instant now,
                Events& events);
Instant next_dip_deadline(const State& state);

}  // namespace neap
