#include "tests/campaign/seen.h"

namespace neap::campaign {

using drivers::simulated::TentFault;

const std::initializer_list<Reaction>& reactions() {
  static const std::initializer_list<Reaction> all{
      {TentFault::leak, {Alarm::leak, Alarm::reservoir_low}},
      {TentFault::hose_burst, {Alarm::leak, Alarm::lost_water, Alarm::fill_failed}},
      {TentFault::standpipe_blocked, {Alarm::tray_overflow, Alarm::slow_drain}},
      {TentFault::drain_blocked, {Alarm::slow_drain}},
      {TentFault::pump_dead, {Alarm::pump_no_effect, Alarm::fill_failed}},
      {TentFault::pump_welded, {Alarm::pump_welded, Alarm::pump_in_hand, Alarm::tray_overflow}},
      {TentFault::reservoir_not_refilled, {Alarm::reservoir_low, Alarm::flood_withheld}},
      {TentFault::level_sensor_silent, {Alarm::sensor_lost}},
      {TentFault::leak_probe_open, {Alarm::leak_probe_fault}},
      {TentFault::leak_probe_damp, {Alarm::leak_damp}},
      {TentFault::canopy_sensor_silent, {Alarm::canopy_lost}},
      {TentFault::canopy_sensor_frozen, {Alarm::canopy_lost}},
      {TentFault::room_sensor_silent, {Alarm::room_lost}},
  };
  return all;
}

void Seen::add(const Seen& other) {
  const auto sum = [](auto& mine, const auto& theirs) {
    for (std::size_t i = 0; i < mine.size(); ++i) mine[i] += theirs[i];
  };
  sum(entered, other.entered);
  sum(reacted, other.reacted);
  sum(alarms, other.alarms);
  sum(latches, other.latches);
  sum(resets, other.resets);
  power_cuts += other.power_cuts;
  kills += other.kills;
  clock_steps += other.clock_steps;
  card_failures += other.card_failures;
  safe_modes += other.safe_modes;
}

}  // namespace neap::campaign
