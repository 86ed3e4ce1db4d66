// 'Sometimes' counters: that every fault was met, and that what must follow did.
#pragma once

#include <array>
#include <cstdint>
#include <initializer_list>

#include "daemon/core/alarm.h"
#include "daemon/core/interlock.h"
#include "drivers/simulated/faults.h"

namespace neap::campaign {

struct Reaction {
  drivers::simulated::TentFault fault;
  std::initializer_list<Alarm> alarms;  // any of them within a day of the fault's begin
};

// Faults whose reaction depends on what is fitted, or that a healthy loop hides, are not here.
const std::initializer_list<Reaction>& reactions();

class Seen {
 public:
  std::array<int, drivers::simulated::kTentFaultCount> entered{};
  std::array<int, drivers::simulated::kTentFaultCount> reacted{};
  std::array<int, kAlarmCount> alarms{};
  std::array<int, kLatchCount> latches{}, resets{};
  int power_cuts = 0, kills = 0, clock_steps = 0, card_failures = 0, safe_modes = 0;

  void add(const Seen& other);
};

}  // namespace neap::campaign
