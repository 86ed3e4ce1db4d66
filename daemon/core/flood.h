// The flood cycle: idle > fill > soak > drain > rest, with proof and limits. It asks for the pump
// (and the drain valve); it never drives them. A restart never resumes a cycle: it waits out the
// drain and closes the row as interrupted.
//
// Proof of level is tray.full, or the reservoir's fall when depth is by litres, or the learnt
// seconds when there is no level to go by. No proof in time stops the pump; when the reservoir fell
// meanwhile the water went somewhere else, and that is a leak.
//
// One attempt is one row: an attempt that moved no water, or did not fill, closes its row and may
// be tried again with origin `retry` under the same slot. Soak holds the water with the pump
// running over the standpipe, or with the drain valve closed. Less than the standpipe's depth
// (by_litres) can only be held by a valve; without one such a flood drains as soon as it is full.
#pragma once

#include <cstdint>
#include <optional>

#include "daemon/core/image.h"
#include "daemon/core/interlock.h"
#include "daemon/core/plan.h"
#include "daemon/core/programme.h"
#include "daemon/core/reading.h"

namespace neap {

// Stored in the journal: numbers stay.
enum class FloodPhase : std::uint8_t { idle = 0, fill = 1, soak = 2, drain = 3, rest = 4 };
enum class FloodOrigin : std::uint8_t {
  slot = 0,
  catch_up = 1,
  operator_request = 2,
  retry = 3,
  by_time = 4,
  another_hand = 5  // seen, not driven: the pump is not neap's (flood_seen.cpp)
};
enum class FloodOutcome : std::uint8_t {
  running = 0,
  complete = 1,
  stopped = 2,      // by the operator
  no_effect = 3,    // nothing moved after the pump was switched on
  fill_failed = 4,  // no proof of level within the limit
  lost_water = 5,   // the reservoir fell, the tray did not fill
  tripped = 6,      // an interlock stopped it
  interrupted = 7,  // restart or power cut in mid-cycle
  slow_drain = 8,   // it did not drain in time
};

// One row a cycle. Times are durations; a negative-free world: absent figures are optional-like
// with their `_known` flag, because the row is persisted.
struct CycleRow {
  std::int64_t started_tick = 0;  // key of the row
  SlotId slot;
  FloodOrigin origin = FloodOrigin::slot;
  FloodOutcome outcome = FloodOutcome::running;
  Millis fill{};
  Millis soak{};
  Millis drain{};
  Millis pump_on{};
  bool litres_known = false;
  double litres_out = 0;   // the reservoir's fall to the end of soak
  double litres_back = 0;  // its rise by the end of drain
  bool dip_known = false;
  double vpd_before_kpa = 0;  // mean of the 5 min before
  double vpd_lowest_kpa = 0;  // until recovery
  Millis recovery{};          // from pump stop until the VPD is in band again
  bool recovered = false;
};

// The reservoir while the pump stands still: its highest level of the last hour (flood_still.h).
struct StillWater {
  std::optional<Instant>
      from;  // the pump has stood, and nobody worked at the tent or knew of a leak, since
  std::optional<double> level_l;
  Instant level_at{};
};

// For floods by another hand: what the reservoir held before it began to fall, and when.
struct RestingLevel {
  std::optional<double> level_l;
  Instant at{};         // it was last seen to stand there
  bool no_sign = true;  // nothing shows water on its way, or did not until now
};

struct FloodState {
  FloodPhase phase = FloodPhase::idle;
  Instant since{};  // start of the phase
  Instant fill_started{};
  bool pump_wanted = false;  // or, of another hand's pump: taken to run
  int retries = 0;
  Instant retry_at{};  // no effect: next try
  bool retry_pending = false;
  Instant last_ended{};  // end of the last flood's drain or rest
  bool any_ended = false;
  double level_before_l = 0;  // reservoir at the start
  bool level_before_known = false;
  double level_lowest_l = 0;  // of this cycle
  double level_mark_l = 0;    // where the level was when it last fell visibly, and when
  Instant level_mark_at{};
  std::optional<double> level_full_l;   // where it was when the tray's float said full
  std::optional<double> level_above_l;  // of a lone reading: how far over the lowest it stood
  Instant level_read_at{};
  Instant effect_from{};     // the pump's effect is judged from then: the fill's start, or a top-up
  Instant not_back_at{};     // the latest reading in this drain by which the water was not yet back
  bool effect_seen = false;  // the pump was proven to move water, or nothing can prove it
  bool fill_seen = false;    // this cycle's fill ended by its float or by litres, not by time
  bool from_drained = false;          // this fill began in a tray that had had time to drain
  std::optional<Millis> proven_fill;  // of this cycle, scaled to the whole flood volume
  bool fill_alarm = false;            // slower than +25 % of the learnt time
  // The pump was tried as often as may be and moved nothing. Ends by proof alone, whoever runs the
  // pump: the next flood that moves water, or a hold of the pump between floods that does.
  bool no_effect_alarm = false;
  bool by_time = false;  // this cycle fills by the learnt time, past a blind sensor
  bool float_doubtful =
      false;  // tray.full said full of a tray that could not be; until a good fill
  StillWater still;
  RestingLevel resting;
  bool held_run = false;  // the pump runs between cycles, by a hold, since held_since
  Instant held_since{};
  std::optional<double> held_level_l;  // reservoir when it began
  bool lost_water = false;             // for the kernel to latch; true until the next step
  bool fill_expired = false;           // likewise: no proof of level, nothing left to try
  bool drain_expired = false;          // likewise, and for as long as a tray float still sees water
  Because lost_because;                // of the latest lost water: what the readings make likely
  Because last_end;                    // why the last cycle ended
  CycleRow row;                        // under construction while row_open, else the last one
  bool row_open = false;
  Instant stepped_at{};  // the latest step
};

// What survives a restart of the flood part.
struct FloodLearnt {
  Millis fill{};  // EWMA of proven fills; 0 = nothing learnt
  Millis drain{};
  int fills = 0;
  int drains = 0;
};

// What the cycle sees in one scan.
struct FloodInputs {
  bool timed = false;        // floods go by time (KernelInputs::timed)
  bool service = false;      // a person works at the tent
  bool leak_known = false;   // latched: a reservoir that falls is no news
  bool pump_stands = false;  // in another hand, and its own proof says that it does not run
  FloatSeen tray_full = FloatSeen::unknown;
  std::optional<Instant> full_since;  // tray.full has said full without a break since then
  FloatSeen tray_wet = FloatSeen::not_fitted;
  Reading<Litres> reservoir;
  bool pump_is_on = false;    // last command granted running; another hand's: its proof says so
  bool pump_tripped = false;  // the last scan's verdict on the pump
  Because trip_because;
  bool valve_tripped = false;    // the last scan's verdict on the drain valve
  bool start_permitted = false;  // no inhibit on the pump
  Because withheld_because;
  Millis soak{};  // of this flood
  Depth depth = Depth::by_float;
  Litres litres{0};
};

struct FloodStart {
  bool wanted = false;
  SlotId slot;
  FloodOrigin origin = FloodOrigin::slot;
};

struct FloodNews {  // what happened in this step
  bool started = false;
  bool phase_changed = false;
  bool row_closed = false;  // state.row is complete but for the VPD dip
  bool filled = false;      // the tray was proven full, or filled as long as it takes
  bool fill_seen = false;   // of the closed row: a sensor saw the tray fill
  bool drain_seen = false;  // likewise, drain
  bool settled = false;     // the rest is over: row has what came back since
  CycleRow row;
  Because refused;  // a start or retry was due and not made: why
};

// Advances the cycle and pushes its demands. `start` is honoured only when idle, permitted, with an
// empty tray and min_gap after the last flood, whoever asks; else news.refused says why.
FloodNews step_flood(const TablePlan& table, FloodState& state, FloodLearnt& learnt,
                     const FloodInputs& in, const FloodStart& start, bool stop_wanted, Instant now,
                     Demands& demands);

// The same cycle where the pump is another hand's (a person's, a socket timer's): nothing is asked
// for, and what the floats, the reservoir and the pump's proof show is put down as floods of origin
// another_hand. Nothing is learnt from them. Water that leaves and does not come back is lost
// water, as ever.
FloodNews see_flood(const TablePlan& table, FloodState& state, FloodLearnt& learnt,
                    const FloodInputs& in, Instant now);

// Why no flood may begin now; none when one may.
Because start_refusal(const TablePlan& table, const FloodState& state, const FloodInputs& in,
                      Instant now);

// A flood by another hand is under way, and its pump is taken to run.
inline bool another_hand_pumps(const FloodState& state) {
  return state.row.origin == FloodOrigin::another_hand && state.pump_wanted;
}

// What the pump is told for in this phase.
Reason reason_of(FloodPhase phase);

// After a restart: if the kept row shows a cycle under way, close it as interrupted (once, however
// often the power fails in the drain that follows) and wait out the drain limit before the next
// flood.
FloodNews resume_flood(const TablePlan& table, FloodState& state, const CycleRow& kept_row,
                       bool was_running, Instant now);

// The next instant at which the cycle itself changes something; Instant::max() when idle.
Instant next_flood_deadline(const TablePlan& table, const FloodState& state,
                            const FloodLearnt& learnt, const FloodInputs& in);

}  // namespace neap
