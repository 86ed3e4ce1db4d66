// The interlock kernel: permissives, trips and latches over every output. Deny by default; no heap,
// no text, no thresholds and no clock: those are evaluated before it (daemon/core/watch), so its
// whole input space is small enough to enumerate.
//
// Invariant: making any input worse never energises the pump, the humidifier, the dehumidifier or
// what heats and cools the water.
// Latches live in KernelState; once set they stay until reset() grants it, across restarts too
// (the state file keeps them). `ack` never clears one.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "daemon/core/outputs.h"
#include "daemon/core/points.h"
#include "daemon/core/reason.h"

namespace neap {

enum class LeakSeen : std::uint8_t {
  dry = 0,
  damp = 1,     // condensation: no new flood
  wet = 2,      // stop at once
  unknown = 3,  // probe faulty or silent: as wet, but it does not latch
};
enum class FloatSeen : std::uint8_t { not_fitted = 0, clear = 1, set = 2, unknown = 3 };
enum class LevelSeen : std::uint8_t { not_fitted = 0, enough = 1, low = 2, unknown = 3 };
// A pump that was told to stop, by its own proof (daemon/core/driven.h).
enum class PumpSeen : std::uint8_t {
  obeys = 0,     // or no proof is fitted, or it is silent
  in_hand = 1,   // it runs, though it was seen to stand: its switch is set to hand
  welded = 2,    // it has not stopped since it was driven: its contact did not open
  off_auto = 3,  // its switch is not in automatic, or cannot be read: neap does not drive it
};
enum class Heat : std::uint8_t { normal = 0, dim = 1, shed = 2, unknown = 3 };
// The solution, against the hottest that a heater may make it.
enum class WaterSeen : std::uint8_t { normal = 0, hot = 1, unknown = 2 };

// Stored in the state file and the journal: numbers stay.
enum class Latch : std::uint8_t {
  leak = 0,           // a probe was wet in 2 of 3 samples
  tray_overflow = 1,  // the high float was reached
  lost_water = 2,     // the reservoir fell, the tray did not rise
  fill_failed = 3,    // no proof of level within the limit, retries spent
  slow_drain = 4,     // the tray was not empty within the drain limit
  pump_welded = 5,    // the pump ran on when it was stopped
  state_lost = 6,     // budgets and latches from before this start are not known
};
constexpr std::size_t kLatchCount = 7;

struct LatchInfo {
  Latch latch;
  std::string_view name;  // what is typed after `neap reset`
  std::string_view title;
};
inline constexpr std::array<LatchInfo, kLatchCount> kLatches{{
    {Latch::leak, "leak", "leak"},
    {Latch::tray_overflow, "overflow", "tray overflow"},
    {Latch::lost_water, "lost-water", "lost water"},
    {Latch::fill_failed, "fill", "fill without proof"},
    {Latch::slow_drain, "drain", "tray did not drain"},
    {Latch::pump_welded, "weld", "pump contact welded"},
    {Latch::state_lost, "state", "state lost"},
}};
constexpr const LatchInfo& info(Latch l) { return kLatches[static_cast<std::size_t>(l)]; }

struct KernelInputs {
  LeakSeen leak = LeakSeen::unknown;  // worst of all probes
  Point leak_at = Point::leak_floor;  // which probe that is: for the reason only
  bool leak_confirmed = false;        // 2 of 3 samples within the window
  FloatSeen tray_high = FloatSeen::unknown;
  FloatSeen tray_full = FloatSeen::unknown;
  LevelSeen reservoir = LevelSeen::unknown;
  bool fill_expired = true;    // this fill reached its limit without proof
  bool lost_water = false;     // mass balance says the water went elsewhere
  bool drain_expired = false;  // the tray should have been empty by now
  bool run_expired = true;     // pump has run its longest permitted stretch
  bool budget_cycle_spent = true;
  bool budget_hour_spent = true;
  bool budget_day_spent = true;
  bool unsaved = true;                    // the card does not take the debit that a start needs
  PumpSeen pump_seen = PumpSeen::welded;  // told to stop
  bool deaf = true;               // the pump or the drain valve could not be driven or proven
  Output deaf_at = Output::pump;  // which of them: for the reason only
  bool service = false;           // a person works at the tent
  bool rail_off = true;           // the supply of sensors is being cycled: they say nothing
  bool supply_low = true;         // of the board, now or in the last minute
  bool timed = false;  // the owner lets a flood go by time past a blind tray.full or reservoir
  Heat heat = Heat::unknown;
  bool bucket_full = false;
  LevelSeen covered = LevelSeen::unknown;  // of what hangs in the reservoir, as its level is now
  WaterSeen water = WaterSeen::unknown;
  bool outputs_proven = false;     // safe levels were written and read back at start
  bool first_inputs_seen = false;  // one full input scan since start
};

struct KernelState {
  std::array<bool, kLatchCount> latched{};
  friend constexpr bool operator==(const KernelState&, const KernelState&) = default;
};

// What the kernel says of one output. A trip forces the safe state now; an inhibit only forbids a
// start (a pump that runs goes on to its own limits); a cap bounds the level (light dimmed).
struct Verdict {
  bool trip = false;
  bool inhibit = false;
  Permille cap = kRunning;
  Because because;
};

struct Verdicts {
  PerOutput<Verdict> of;
};

constexpr Permille kDimmedLight{500};  // heat: half light first, then none

// What a verdict leaves of the level an output is asked to take: a trip gives its safe state, an
// inhibit refuses a start (`now` is stopped, `wanted` is not), a cap bounds the rest. An output
// whose safe state is fixed goes there whatever `safe` says: no settings file makes a pump's trip
// run it.
Permille permitted(Output output, Permille wanted, Permille now, const Verdict& verdict,
                   Permille safe);

// Sets latches from the inputs, then judges every output. Called once a scan. `because` of a
// verdict names the first live cause, in the order of the tables in interlock.cpp, before a latch.
void judge(const KernelInputs& in, KernelState& state, Verdicts& out);

// May `latch` be cleared? `none` when it may (and then it is cleared), else the cause that persists
// (Reason::cause_persists with the latch, or latch_not_set). Absence of proof is a cause: a probe
// that is faulty, or a float that cannot be read, keeps the latch.
Because reset(const KernelInputs& in, KernelState& state, Latch latch);

}  // namespace neap
