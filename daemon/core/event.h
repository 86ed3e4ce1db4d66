// What a scan tells the rest of the daemon. Typed, fixed size; the journal stores it, the client
// words it. The core never logs.
#pragma once

#include <cstdint>

#include "daemon/core/alarm.h"
#include "daemon/core/fixed.h"
#include "daemon/core/flood.h"
#include "daemon/core/instant.h"
#include "daemon/core/outputs.h"
#include "daemon/core/points.h"
#include "daemon/core/reason.h"

namespace neap {

// Stored in the journal: numbers stay.
enum class EventKind : std::uint8_t {
  actuation = 1,  // output, level: the granted command changed
  alarm = 2,      // alarm, alarm_from, alarm_to
  latch_set = 3,  // latch
  latch_reset = 4,
  flood_phase = 5,     // phase
  cycle_closed = 6,    // cycle: the row is complete but for the dip
  cycle_settled = 7,   // cycle: rested and recovered; replaces the row of cycle_closed
  slot_skipped = 8,    // slot, because: withheld or missed
  stage = 9,           // number = index of the stage entered
  targets = 10,        // number unused; band in force changed its day or night end
  reading_state = 11,  // point: lost or back
  request = 12,        // answer to an operator's request
  time = 13,           // wall clock stepped or its quality changed
  service = 14,        // number = 1 begun, 0 ended
  day_closed = 15,     // tally of a photoperiod
  boot = 16,           // written by the shell: started, stopped
  settings = 17,       // written by the shell: applied, refused
  client = 18,         // written by the shell: a peer connected or was turned away
  fault = 19,          // written by the shell: a simulated tent's fault; number = 1 begun, 0 ended
  step_test = 20,      // output; number = 1 begun, 0 ended, because: at its end, or cut short
  proof_test = 21,     // number = ProofTest that was passed, because: what was seen
  would_actuate = 22,  // output, level: what neap would have granted what is in another hand
  would_flood = 23,    // slot: it would have flooded now; because: or why it would have withheld it
  hand_measurement = 24,  // number = Hand, because: its value, or that it was withdrawn
  calibration = 25,       // point, because: what came of it
};

// In-band bookkeeping of one photoperiod day (lights-on to lights-on), from validated readings.
struct DayTally {
  std::int32_t date = 0;
  std::int64_t began_tick = 0;
  Millis day_known{};  // light time with a usable VPD and a target
  Millis day_in_band{};
  Millis night_known{};
  Millis night_in_band{};
  Millis below{};
  Millis above{};
  double kpa_h_out = 0;    // integral of the distance to the band
  Millis humid{};          // above 85 % RH
  int floods_planned = 0;  // slots that came due
  int floods_started = 0;  // from slots and catch-up
  int floods_complete = 0;
  double litres_out = 0;
  double litres_back = 0;
  Millis pump_on{};
  Millis dehumidifier_on{};
  int dehumidifier_starts = 0;
  Millis humidifier_on{};
  double fan_hours = 0;  // integral of the level
  int fan_moves = 0;     // changes of 5 % or more
  double vpd_lowest = 0;
  double vpd_highest = 0;
  bool any_vpd = false;
};

struct Event {
  EventKind kind = EventKind::boot;
  Because because;
  Output output = Output::pump;
  Permille level = kStopped;
  Point point = Point::canopy_temperature;
  Alarm alarm = Alarm::leak;
  AlarmState alarm_from = AlarmState::normal;
  AlarmState alarm_to = AlarmState::normal;
  Latch latch = Latch::leak;
  FloodPhase phase = FloodPhase::idle;
  SlotId slot;
  CycleRow cycle;  // cycle_closed, cycle_settled
  DayTally day;    // day_closed
  std::int32_t number = 0;
  std::uint32_t request_id = 0;
  bool accepted = false;  // request
};
using Events = FixedVector<Event, 64>;

}  // namespace neap
