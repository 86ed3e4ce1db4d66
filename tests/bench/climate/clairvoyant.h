// What is physically possible: the fan, dehumidifier and humidifier of a scenario moved by somebody
// who knows the true plant, its true state, and all weather, floods and light edges to come. Bound
// by the same devices: dwells, starts an hour, floor, ceiling and quiet ceiling of the fan.
//
// Approximate dynamic programming, forwards: each minute every course of action that was kept is
// continued by every legal move; of those that end in nearly the same state the cheapest is kept,
// and of all states the cheapest few, some for each state of the dehumidifier's dwell. The cost is
// the minutes out of band, then a little for energy and switching, and much for air temperature
// outside the stage's limits. The best course is then played on the true plant by single seconds
// and scored as any law is.
#pragma once

#include <cstdint>

#include "daemon/settings/settings.h"
#include "tests/bench/climate/arena.h"

namespace neap::arena {

// Raised when the search itself changes: stored bounds are then computed anew.
constexpr int kClairvoyantVersion = 2;

struct Effort {
  int nodes = 120;   // courses kept each minute
  int stride_s = 5;  // of the plant while searching
  int fan_levels = 12;
  double fineness = 1;  // of what counts as nearly the same state
};

// Throws std::runtime_error when the settings' tent cannot be made.
Score clairvoyant(const settings::Loaded& settings, int warm_up_days, int days,
                  const Effort& effort = {});

}  // namespace neap::arena
