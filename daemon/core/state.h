// Everything the scan remembers. A plain value: a test may begin in mid-flood, and the part of it
// called Kept is what the state file carries over a restart.
#pragma once

#include <array>
#include <cstdint>
#include <optional>

#include "daemon/core/alarm.h"
#include "daemon/core/balance.h"
#include "daemon/core/climate.h"
#include "daemon/core/demand.h"
#include "daemon/core/driven.h"
#include "daemon/core/event.h"
#include "daemon/core/flood.h"
#include "daemon/core/hand.h"
#include "daemon/core/interlock.h"
#include "daemon/core/points.h"
#include "daemon/core/probe_calibration.h"
#include "daemon/core/programme.h"
#include "daemon/core/proof_tests.h"
#include "daemon/core/reading.h"
#include "daemon/core/solution_watch.h"

namespace neap {

// Pump budgets. The whole permitted run is debited before the pump starts and credited when it
// stops (D-009), so a crash leaves the budget spent, never open. Day: run time by hour of tick; a
// run of up to an hour belongs to the hour it began in, hence two hours more than 24. Hour: the
// latest runs.
constexpr int kBudgetHours = 26;
constexpr int kBudgetRuns = 16;
struct PumpRun {
  std::int64_t began_tick = 0;
  std::int64_t ms = 0;       // reserved while it runs, true afterwards
  bool began_flood = false;  // counts against floods an hour; retries do not
  friend constexpr bool operator==(const PumpRun&, const PumpRun&) = default;
};
struct PumpBudget {
  std::array<std::int64_t, kBudgetHours> hour_ms{};  // by tick hour modulo kBudgetHours
  std::int64_t newest_hour = 0;
  std::array<PumpRun, kBudgetRuns> runs{};
  std::int32_t run_count = 0;  // runs ever begun; the newest is (run_count - 1) % kBudgetRuns
  bool run_open = false;       // the newest run has not been credited yet
  friend constexpr bool operator==(const PumpBudget&, const PumpBudget&) = default;
};

struct Dwell {
  Instant changed{};                     // last start or stop
  bool changed_known = false;            // false: treat as just stopped now
  std::array<std::int64_t, 8> starts{};  // ticks of the latest starts, for the hourly budget
  std::int32_t start_count = 0;          // starts ever; the newest is (start_count - 1) % 8
};

// How long the roots have waited for water (roots.h). Time counts by what it costs them: `spent` is
// in thousandths of a millisecond of light at a VPD of 1 kPa.
struct RootsClock {
  bool running = false;
  bool proven = false;     // it began with a flood that filled the tray, not with a first start
  bool cut_short = false;  // a flood has begun since and did not fill
  std::int64_t since_tick = 0;    // when it began
  std::int64_t counted_tick = 0;  // `spent` is true for this tick
  std::int64_t spent = 0;
  std::int32_t rate = 0;    // from then on, a millisecond
  bool wall_known = false;  // an outage stops the tick; it is counted by the wall clock
  std::int64_t wall_ms = 0;
  std::int64_t wall_tick = 0;  // when it was wall_ms
};

// What a flood leaves behind it until the next, as FloodState has it.
struct FloodPending {
  bool no_effect_alarm = false;
  bool fill_alarm = false;
  bool float_doubtful = false;
  bool retry_pending = false;
  std::int32_t retries = 0;
  std::int64_t retry_at_tick = 0;
};

// The latest starts of the pump that drew the board's supply down (supply.h).
constexpr int kSagsTold = 3;  // a day; more than these are an alarm
struct SupplySags {
  std::array<std::int64_t, kSagsTold + 1> ticks{};
  std::int32_t count = 0;  // ever; the newest is (count - 1) % ticks.size()
};

// The subset that survives restart: named, versioned and checksummed by daemon/shell/state_file.
struct Kept {
  KernelState kernel;
  PumpBudget budget;
  PerOutput<Dwell> dwell;
  FloodLearnt flood_learnt;
  bool flood_was_running = false;
  CycleRow flood_row;  // of the cycle under way
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
  bool flood_missed = false;  // a slot was skipped or cut off, and no flood has filled since
  RootsClock roots;
  DemandClock demand;
  bool catch_up_pending = false;  // the slot below is made up for when it can be
  FloodSlot catch_up_slot;
  FloodPending flood_pending;
  // The newest page of slots was turned this many days ahead by a clock that jumped, or that nobody
  // vouched for. 0: it is as true as the clock.
  std::int32_t page_ahead = 0;
  bool service = false;    // as State::service, over a restart
  bool step_test = false;  // one is under way, of that output
  Output step_test_of = Output::exhaust_fan;
  std::int64_t service_until_tick = 0;
  LawMemory law;
  SupplySags supply_sags;
  AlarmTable alarms;
  DayTally tally;
  WaterBalance balance;
  ProofRecords proofs{};
  HandReadings hands{};
  Calibrations calibrations{};
  SolutionAge solution_age;
  PerOutput<bool> in_another_hand{};  // as the plan of the last scan had it
};

// A contact that changes more often than this in a minute chatters (hazards W9).
constexpr int kEdgesAMinute = 10;

// What a contact says, and what is acted on: the safe edge of it waits (limits::kSafeEdgeHold).
struct ContactWatch {
  bool any = false;
  Contact said = Contact::clear;  // newest readable
  Instant since{};                // since when it says so
  Contact acted = Contact::clear;
  std::array<Instant, kEdgesAMinute + 1> edges{};  // the latest; newest at edge_count - 1
  std::uint32_t edge_count = 0;
  std::optional<Instant> worst_at;  // when it last said the most dangerous that it can say
};

// Errors of sensors against the switching of loads (hazards S9).
struct SwitchEcho {
  std::optional<Instant> at;  // of the latest switching
  bool heard = false;         // an error came with it
  int score = 0;              // leaky count of switchings with an error
};

// Per point: what validation remembers.
struct PointWatch {
  Reading<double> reading;  // validated, calibrated
  std::uint32_t last_count = 0;
  double last_good = 0;
  Instant last_good_at{};
  bool any_good = false;
  bool confirmed = false;  // last_good is more than the first word after the start
  double newest = 0;       // latest value inside the point's range, believed or not
  int agreeing = 0;        // values in a row that agree with the one before, newest included
  int doubt = 0;           // leaky count of refused values (limits.h)
  bool suspended = false;  // doubt has run over and not yet back to nothing
  Fault fault = Fault::never_read;  // of the latest delivery without a usable value
  double raw_same = 0;
  Instant raw_same_since{};
  bool lost = false;  // as last told by an event
  ContactWatch contact;
};

// The three latest samples of one leak probe, newest first.
struct LeakWindow {
  Instant last_wet = Instant::min();
  std::array<bool, 3> wet{};
  std::array<Instant, 3> at{};
  std::uint32_t last_count = 0;
};

// The slots of the photoperiod in force, computed once for its date, stage and plan.
struct SlotTable {
  bool valid = false;
  std::int32_t date = 0;
  std::int32_t stage_index = 0;
  FloodSlots slots;
  bool has_next = false;  // first slot of the photoperiods after this one
  FloodSlot next;
  Millis longest_gap{};    // that the programme itself leaves between two floods; 0 = no floods
  Millis longest_spent{};  // and what it costs the roots in the air it asks for
};

struct Hold {
  bool active = false;
  Permille level = kStopped;
  Instant until{};
};

struct StepTest {  // see step_test.h
  bool running = false;
  Output output = Output::exhaust_fan;  // whose steps: the exhaust fan's or the dehumidifier's
  Instant began{};
  Millis step{};  // length of each
  Permille fan_low = kStopped;
  Permille fan_high = kStopped;
};

struct VpdDip {  // follows the air through a flood until it has recovered
  bool active = false;
  bool pump_stopped = false;
  Instant pump_stopped_at{};
  CycleRow row;
  bool row_closed = false;
  bool settled = false;  // the tray has rested: the row's litres are final
};

enum class RailPhase : std::uint8_t { on = 0, off = 1, settling = 2 };
struct RailCycle {  // see rail.h
  RailPhase phase = RailPhase::on;
  Instant since{};
  int tries = 0;  // since its sensors were last well for long
  Instant not_before = Instant::min();
  std::optional<Instant> any_silent_since;
  std::optional<Instant> all_silent_since;
  std::optional<Instant> well_since;
};

struct ButtonWatch {            // see button.h
  std::optional<Instant> down;  // pressed since
  Instant seen_down{};          // by the newest reading that said so
  bool was_up = false;          // seen so since the start, or since it could not be read
  std::optional<Instant> refused_at;
};

// A second copy of what nothing but a scan may change: a bit that flips in the board's memory, in
// either of the two, is seen by the next scan.
struct Shadow {
  bool made = false;
  KernelState kernel;
  PumpBudget budget;
};

// When the latest requests against the interlocks were denied, newest first (denials.h).
struct Denials {
  std::array<std::optional<Instant>, 3> at{};
};

struct State {
  Kept kept;
  Denials denials;
  Shadow shadow;
  PerPoint<PointWatch> points;
  std::array<LeakWindow, 3> leaks;
  SwitchEcho echo;
  FloodState flood;
  IdleWindow idle_window;
  PerOutput<Hold> holds;
  OutputImage last;  // as granted by the last scan, and in the next one as it was driven since
  PumpProof pump_proof;
  bool supply_is_low = false;  // of the board, in the last scan
  std::optional<Instant> supply_low_at;
  RailCycle rail;
  ButtonWatch button;
  std::optional<Instant> fan_asked_since;  // running, as driven (fan_speed.h)
  bool service = false;
  Instant service_until{};
  bool service_overdue = false;
  StepTest step_test;
  VpdDip dip;
  double vpd_mean_kpa = 0;  // of about five minutes, for the dip of the next flood
  bool vpd_mean_known = false;
  Instant vpd_mean_at{};
  Instant last_scan{};
  bool scanned = false;
  Instant proofs_from{};  // since the start, or other hardware: what moved before proves nothing
  CivilTime civil;        // of the last scan; meaningless while time is unset
  bool day = false;       // light period, as the last scan saw it
  SlotTable slot_table;
  bool outage_counted = false;  // by the roots' clock, since this start
  bool slot_due = false;        // a slot waits for permission
  FloodSlot due_slot;
  Because withheld;                 // why the due slot has not started
  std::uint32_t decided_count = 0;  // canopy sample that the climate law last saw
  Instant law_wake = Instant::max();
  LawMemory would_law;              // of what the law would ask of devices in another hand
  PerOutput<bool> changed_hands{};  // with this start
  WallTime last_wall{};
  Instant last_wall_at{};
  std::optional<Instant> behind_since;  // the clock is behind the page of the floods
  CivilTime gap_end;       // the newest change of the clocks forward left out `gap_s` before this
  std::int32_t gap_s = 0;  // 0 = none since the start
  Binding binding = Binding::nothing;
  Because diagnosis;
  CureList cures;  // that would do besides what the diagnosis names
  Doubts doubts;   // devices of the climate that do not do what they are told
  Air canopy;      // derived in the last scan, for status and charts
  Air room;
  double probes_apart_kpa = 0;  // between two canopy probes
  bool condensing = false;      // as the climate limits saw it
  Because condensation;
  ClimateTargets targets;
  Verdicts verdicts;
  KernelInputs kernel_inputs;  // of the last scan: `reset` asks them
};

}  // namespace neap
