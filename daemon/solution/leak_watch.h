// A slow leak, told from what plants and air take by two detectors:
//
//   idle slope     the level must lie flat between floods, so a leak of reservoir or pipe shows
//   from
//                  the first night on, with no belief about plants; what leaks in a flood alone is
//                  not seen
//   cycle balance  fall of the level from flood to flood less what the air asked of the plants one
//                  cycle earlier: sees both, needs ten days to learn how much that is
//
// Each standardises its values by a scatter that it learns from the record and sums what exceeds
// 0.4 deviations (a one-sided CUSUM); the thresholds are set for less than one false alarm a year
// of both together. 'It fell more than usual today' must allow 1.7 L for that, because plants grow
// and days differ: it waits a whole day and misses every other leak of 50 mL/h.
// tests/bench/trends/trends_bench prints what these find, how soon, and in which conditions.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "daemon/solution/water_balance.h"

namespace neap::solution {

enum class LeakSign : std::uint8_t { idle_slope, cycle_balance };

struct Suspicion {
  LeakSign sign = LeakSign::idle_slope;
  double since_h = 0;    // the sum has grown since
  double flagged_h = 0;  // when it passed the threshold
  double last_h = 0;     // newest window or cycle that says the same
  double l_per_h = 0;    // mean excess since `since_h`
  // After `last_h` nothing can be said of it: what plants take without it is known no more.
  bool lost_sight = false;
};

// What the record could show. `scatter` is the standard deviation of one window's slope.
struct Detectability {
  int windows = 0;
  double windows_per_day = 0;
  double scatter_l_per_h = 0;
  double longest_window_h = 0;
  // The smallest leaks that are flagged within one and two days, more often than not; none with
  // too few windows.
  std::optional<double> within_a_day_l_per_h;
  std::optional<double> within_two_days_l_per_h;
};

struct LeakFindings {
  std::vector<Suspicion> suspicions;  // by time flagged
  Detectability idle;
  int cycles_judged = 0;
};

LeakFindings watch_for_leaks(const WaterRecord& record);

}  // namespace neap::solution
