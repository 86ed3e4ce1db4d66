// Alarms after the states of ISA-18.2: normal, unacknowledged, acknowledged, returned
// unacknowledged, shelved, and suppressed by design while a declared service disturbs them. Pure:
// conditions come in, transitions go out.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "daemon/core/instant.h"
#include "daemon/core/reason.h"

namespace neap {

// Stored in the journal and the state file: numbers stay.
enum class Alarm : std::uint8_t {
  leak = 0,
  tray_overflow = 1,
  lost_water = 2,
  fill_failed = 3,
  slow_drain = 4,
  pump_no_effect = 5,
  fill_slow = 6,
  reservoir_low = 7,
  pump_budget = 8,
  leak_probe_fault = 9,
  leak_damp = 10,
  float_fault = 11,
  canopy_lost = 12,
  room_lost = 13,
  over_temperature = 14,
  under_temperature = 15,
  humidity_high = 16,
  vpd_out_of_band = 17,
  bucket_full = 18,
  flood_withheld = 19,
  flood_missed = 20,
  stage_due = 21,
  time_unknown = 22,
  sensor_lost = 23,      // any other fitted point
  journal_trouble = 24,  // disk full, locked or failing
  service_overdue = 25,
  state_lost = 26,
  probes_disagree = 27,
  output_fault = 28,  // a driver could not write or prove a level
  condensation = 29,
  spread = 30,  // two canopy probes apart: pocket of humid air
  fan_dead = 31,
  dehumidifier_dead = 32,
  dehumidifier_welded = 33,
  humidifier_dry = 34,
  light_stuck_on = 35,
  state_unsaved = 36,  // what must survive a crash cannot be written
  pump_welded = 37,
  pump_in_hand = 38,   // its proof contradicts what it was told
  roots_thirsty = 39,  // half of the time that they can wait for water is over
  roots_dry = 40,      // all of it
  supply_low = 41,     // of the board
  supply_sags = 42,    // again and again, when the pump starts
  rail_helps_not = 43,
  air_pump_stands = 44,
  slow_leak = 45,  // the reservoir loses water while nothing is pumped (balance.h)
  contact_chatters = 46,
  switching_noise = 47,   // sensors fail when loads are switched
  unproven = 48,          // a part has not been seen to work: floods wait
  proof_due = 49,         // a test is due again
  request_denied = 50,    // a part of the daemon asked for the pump against the interlocks
  not_ours_to_stop = 51,  // water where it should not be, and the pump in another hand
  ph_off_band = 52,       // of the solution (solution_watch.h)
  ph_far_off = 53,
  ec_off_band = 54,
  ec_far_off = 55,
  water_off_band = 56,  // its temperature
  water_far_off = 57,
  level_off_band = 58,
  hand_check_due = 59,
  calibration_due = 60,
  change_due = 61,
  stage_coming = 62,
  pump_off_auto = 63,  // its switch says so
  fan_stands = 64,     // its tachometer says so
  button_stuck = 65,
  water_too_hot = 66,  // above what a heater may make of it (water_temperature.h)
  light_out = 67,      // its sensor says so
};
constexpr std::size_t kAlarmCount = 68;

enum class Priority : std::uint8_t { advisory = 0, low = 1, medium = 2, high = 3, critical = 4 };

enum class AlarmState : std::uint8_t {
  normal = 0,
  unacknowledged = 1,
  acknowledged = 2,
  returned = 3,  // the condition cleared, nobody has acknowledged yet
  shelved = 4,
  suppressed = 5,  // by a declared service
};

struct AlarmInfo {
  Alarm alarm;
  std::string_view name;  // what is typed after `neap ack`
  std::string_view title;
  std::string_view remedy;  // what a person does
  Priority priority;
  Millis on_delay;   // condition must last this long
  Millis off_delay;  // and be gone this long
  bool muted_by_service;
};
extern const std::array<AlarmInfo, kAlarmCount> kAlarms;
inline const AlarmInfo& info(Alarm a) { return kAlarms[static_cast<std::size_t>(a)]; }
// In quiet hours too: critical ones, and below them water where none belongs and a pump that cannot
// be stopped.
bool wakes_people(Alarm alarm);

struct AlarmRecord {
  AlarmState state = AlarmState::normal;
  bool condition = false;     // as last told
  Instant condition_since{};  // when it last changed
  Instant raised{};
  Instant shelved_until{};
  Because because;  // latest cause
  std::uint32_t raised_count = 0;

  // Nothing stands and nothing is pending, as of nearly all of them nearly always.
  bool at_rest() const { return state == AlarmState::normal && !condition; }
};
using AlarmTable = std::array<AlarmRecord, kAlarmCount>;

// What is true of an alarm's condition in this scan.
struct Condition {
  bool active = false;
  Because because;
};
using Conditions = std::array<Condition, kAlarmCount>;

struct AlarmChange {
  Alarm alarm = Alarm::leak;
  AlarmState from = AlarmState::normal;
  AlarmState to = AlarmState::normal;
  Because because;
};

// Moves every alarm on. `emit(AlarmChange)` is called once a transition, in alarm order.
template <class Emit>
void run_alarms(AlarmTable& table, const Conditions& conditions, bool service, Instant now,
                Emit&& emit);
// One alarm's step; run_alarms is the loop over it. Returns true when the state changed.
// Service suppresses a muted row once its condition is active and until the service ends; the
// on-delay then starts anew. A returned alarm without a condition stays to be seen meanwhile.
bool step_alarm(AlarmRecord& record, const AlarmInfo& row, const Condition& condition, bool service,
                Instant now);
// Always succeeds; true when it changed anything.
bool acknowledge(AlarmRecord& record);
// The next instant at which a delay or a shelf expires; Instant::max() when none is pending.
Instant next_alarm_deadline(const AlarmTable& table);

template <class Emit>
void run_alarms(AlarmTable& table, const Conditions& conditions, bool service, Instant now,
                Emit&& emit) {
  for (std::size_t i = 0; i < kAlarmCount; ++i) {
    if (table[i].at_rest() && !conditions[i].active) continue;
    const AlarmState from = table[i].state;
    if (step_alarm(table[i], kAlarms[i], conditions[i], service, now))
      emit(AlarmChange{static_cast<Alarm>(i), from, table[i].state, table[i].because});
  }
}

}  // namespace neap
