// Everything the scan remembers. A plain value: a test may begin in mid-flood, and the part of it
// called Kept is what the state file carries over a restart.
#pragma once

#include <array>
#include <cstdint>

#include "daemon/core/alarm.h"
#include "daemon/core/climate.h"
#include "daemon/core/event.h"
#include "daemon/core/flood.h"
#include "daemon/core/interlock.h"
#include "daemon/core/points.h"
#include "daemon/core/programme.h"
#include "daemon/core/reading.h"

namespace neap {

// Rolling pump budget: run time by hour of tick. The whole permitted run is debited before the pump
// starts and credited when it stops (rulings), so a crash leaves the budget spent, never open.
constexpr int kBudgetHours = 25;  // 24 h rolling, rounded up to whole hours: never too generous
struct PumpBudget {
  std::array<std::int64_t, kBudgetHours> spent_ms{};  // ring by (tick hour % kBudgetHours)
  std::int64_t newest_hour = 0;
  std::int64_t reserved_ms = 0;    // debited for the run under way
  std::int64_t run_began_tick = 0;
  bool run_open = false;
};

struct Dwell {
  Instant changed{};               // last start or stop
  bool changed_known = false;      // false: treat as just stopped now
  std::array<std::int64_t, 8> starts{};  // ticks of the latest starts, for the hourly budget
  int starts_head = 0;
};

// The subset that survives restart: named, versioned and checksummed by daemon/shell/state_file.
struct Kept {
  KernelState kernel;
  PumpBudget budget;
  PerOutput<Dwell> dwell;
  FloodLearnt flood_learnt;
  bool flood_was_running = false;
  CycleRow flood_row;              // of the cycle under way
  std::int64_t last_flood_ended_tick = 0;
  bool any_flood_ended = false;
  // Slots already used: bit n-1 of `slots_done` is slot n of photoperiod `slots_date`.
  std::int32_t slots_date = 0;
  std::uint64_t slots_done = 0;
  std::int32_t slots_date_before = 0;
  std::uint64_t slots_done_before = 0;
  std::int32_t stage_index = 0;
  std::int32_t stage_entered_date = 0;
  bool stage_known = false;
  LawMemory law;
  AlarmTable alarms;
  DayTally tally;
};

// Per point: what validation remembers.
struct PointWatch {
  Reading<double> reading;          // validated, calibrated
  std::uint32_t last_count = 0;
  double last_good = 0;
  Instant last_good_at{};
  bool any_good = false;
  double raw_same = 0;
  Instant raw_same_since{};
  bool lost = false;                // as last told by an event
};

struct LeakWindow {                 // three latest samples of one probe
  std::array<bool, 3> wet{};
  std::array<Instant, 3> at{};
  int head = 0;
  Instant dry_since{};
  bool was_wet = false;
};

struct Hold {
  bool active = false;
  Permille level = kStopped;
  Instant until{};
};

struct VpdDip {                     // follows the air through a flood until it has recovered
  bool active = false;
  bool pump_stopped = false;
  Instant pump_stopped_at{};
  CycleRow row;
  bool row_closed = false;
};

struct State {
  Kept kept;
  PerPoint<PointWatch> points;
  std::array<LeakWindow, 3> leaks;
  FloodState flood;
  PerOutput<Hold> holds;
  OutputImage last;                 // as granted by the last scan
  bool service = false;
  Instant service_until{};
  bool service_overdue = false;
  VpdDip dip;
  double vpd_mean_5min = 0;         // running mean before a flood
  bool vpd_mean_known = false;
  Instant vpd_mean_at{};
  Instant last_scan{};
  bool scanned = false;
  bool was_day = false;
  WallTime last_wall{};
  Instant last_wall_at{};
  Binding binding = Binding::nothing;
  Because diagnosis;
  Air canopy;                       // derived in the last scan, for status and charts
  Air room;
  ClimateTargets targets;
  Verdicts verdicts;
  SlotId slot_withheld;             // slot whose skip was already told
  KernelInputs kernel_inputs;       // of the last scan: `reset` asks them
};

}  // namespace neap
