#include "tests/campaign/rows.h"

#include <algorithm>

namespace neap::campaign {
namespace {

using F = drivers::simulated::TentFault;

constexpr double kAnswersWithinS = 86400;

template <Alarm... kAny>
bool raised(const Event& e) {
  return e.kind == EventKind::alarm && e.alarm_to == AlarmState::unacknowledged &&
         ((e.alarm == kAny) || ...);
}
template <FloodOutcome kOutcome>
bool ended_as(const Event& e) {
  return e.kind == EventKind::cycle_closed && e.cycle.outcome == kOutcome;
}
bool clock_told(const Event& e) { return e.kind == EventKind::time; }
bool hold_expired(const Event& e) { return e.because.reason == Reason::operator_hold_expired; }
bool flooded(const Event& e) { return ended_as<FloodOutcome::complete>(e); }
bool reset_refused(const Event& e) {
  return e.kind == EventKind::request && !e.accepted && e.because.reason == Reason::cause_persists;
}
bool button_answered(const Event& e) {
  return e.kind == EventKind::request && e.request_id == kButtonRequest;
}
bool service_ended(const Event& e) {
  return (e.kind == EventKind::service && e.number == 0) || raised<Alarm::service_overdue>(e);
}
bool rail_cycled(const Event& e) {
  return e.kind == EventKind::actuation && e.output == Output::sensor_rail && e.level == kStopped;
}
bool service_told(const Event& e) {
  return e.because.reason == Reason::service_holds || raised<Alarm::service_overdue>(e);
}

const std::initializer_list<Row> kRows{
    {"W1",
     "drain or standpipe blocked",
     "pump off at the float, flood withheld, alarm",
     {F::drain_blocked, F::standpipe_blocked},
     {},
     Told::none,
     raised<Alarm::tray_overflow, Alarm::slow_drain>},
    {"W2",
     "pump contact welded",
     "latch weld, alarm",
     {F::pump_welded, F::pump_contact_welded, F::pump_series_welded},
     {},
     Told::none,
     raised<Alarm::pump_welded, Alarm::pump_in_hand, Alarm::tray_overflow>},
    {"W3",
     "process dies while the pump runs",
     "next start drives it off",
     {},
     {},
     Told::killed_while_pumping,
     nullptr},
    {"W4",
     "leak, burst hose",
     "pump off, latch, alarm",
     {F::leak, F::hose_burst},
     {},
     Told::none,
     raised<Alarm::leak, Alarm::lost_water, Alarm::fill_failed>},
    {"W5",
     "leak probe's wire open",
     "as wet, alarm",
     {F::leak_probe_open},
     {},
     Told::none,
     raised<Alarm::leak_probe_fault>},
    {"W6",
     "leak probe damp",
     "no new flood, alarm",
     {F::leak_probe_damp},
     {},
     Told::none,
     raised<Alarm::leak_damp>},
    {"W7",
     "reservoir not refilled",
     "flood withheld, alarm",
     {F::reservoir_not_refilled},
     {},
     Told::none,
     raised<Alarm::reservoir_low>},
    {"W8",
     "float stuck",
     "told by contradiction",
     {F::tray_float_stuck_clear, F::tray_float_stuck_set, F::reservoir_float_stuck},
     {},
     Told::none,
     raised<Alarm::float_fault, Alarm::fill_failed, Alarm::slow_drain, Alarm::reservoir_low>},
    {"W9",
     "float bounces",
     "unsafe edges at once, safe ones late, alarm",
     {F::tray_float_bounces},
     {},
     Told::none,
     raised<Alarm::contact_chatters>},
    {"W10",
     "pump dead or weak",
     "off, tried again, alarm",
     {F::pump_dead, F::pump_weak},
     {},
     Told::none,
     raised<Alarm::pump_no_effect, Alarm::fill_failed, Alarm::fill_slow>},
    {"W11",
     "reservoir seeps",
     "told by its level at rest",
     {F::reservoir_seeps},
     {},
     Told::none,
     raised<Alarm::slow_leak>},
    {"W13",
     "drain slow",
     "next flood withheld, alarm",
     {F::drain_slow},
     {},
     Told::none,
     raised<Alarm::slow_drain>},
    {"W14",
     "pump run again and again",
     "refused by its budget",
     {},
     {},
     Told::hold_of_the_pump,
     raised<Alarm::pump_budget>},
    {"W15",
     "run by hand forgotten",
     "ends by itself",
     {},
     {},
     Told::hold_of_the_pump,
     hold_expired},
    {"W17",
     "service while a flood is due",
     "flood withheld",
     {},
     {},
     Told::slot_in_service,
     service_told},
    {"W18",
     "flood withheld",
     "roots' clock told before their time is over",
     {},
     {},
     Told::flood_withheld,
     raised<Alarm::roots_thirsty>},
    {"W19",
     "air pump dead",
     "told with the hours that are left",
     {F::air_pump_dead},
     {},
     Told::none,
     raised<Alarm::air_pump_stands>},
    {"W20",
     "work at the tent, declared",
     "ends by hand, or is asked about",
     {},
     {},
     Told::service_begun,
     service_ended},
    {"W22",
     "switch at the pump set to hand or off",
     "alarm, no weld latch",
     {F::pump_switch_hand, F::pump_switch_off},
     {},
     Told::none,
     raised<Alarm::pump_in_hand, Alarm::pump_off_auto>},
    {"W23",
     "level falls under a heater or chiller",
     "off in the scan that sees it",
     {},
     {},
     Told::uncovered_in_the_water,
     nullptr},
    {"B1",
     "button stuck",
     "alarm, no flood",
     {F::button_pressed},
     {},
     Told::none,
     raised<Alarm::button_stuck>},
    {"B2",
     "button pressed",
     "stops, holds, acknowledges or floods",
     {},
     {Act::button_down},
     Told::none,
     button_answered},
    {"H1",
     "exhaust fan dead",
     "named, or by what it does to the air",
     {F::fan_dead},
     {},
     Told::none,
     raised<Alarm::fan_dead, Alarm::over_temperature, Alarm::condensation, Alarm::humidity_high,
            Alarm::vpd_out_of_band>},
    {"H2",
     "dehumidifier welded",
     "named, or by what it does to the air",
     {F::dehumidifier_welded},
     {},
     Told::none,
     raised<Alarm::dehumidifier_welded, Alarm::over_temperature, Alarm::vpd_out_of_band>},
    {"H3",
     "bucket full",
     "dehumidifier off, alarm",
     {F::bucket_full},
     {},
     Told::none,
     raised<Alarm::bucket_full>},
    {"H4",
     "compressor's power comes back",
     "minimum off time kept",
     {},
     {},
     Told::compressor_cut,
     nullptr},
    {"H6",
     "humidity probe wet",
     "not believed for long",
     {F::canopy_humidity_saturated},
     {},
     Told::none,
     raised<Alarm::canopy_lost>},
    {"H8",
     "dehumidifier or humidifier does not run",
     "named, or by the air",
     {F::dehumidifier_dead, F::humidifier_dead},
     {},
     Told::none,
     raised<Alarm::dehumidifier_dead, Alarm::humidifier_dry, Alarm::humidity_high,
            Alarm::vpd_out_of_band>},
    {"H10",
     "light on in the dark",
     "named, or by what it does to the air",
     {F::light_stuck_on},
     {},
     Told::none,
     raised<Alarm::light_stuck_on, Alarm::over_temperature, Alarm::vpd_out_of_band>},
    {"S1",
     "contacts read no more",
     "pump off, alarm",
     {},
     {Act::contacts_lost},
     Told::none,
     raised<Alarm::leak_probe_fault, Alarm::float_fault, Alarm::sensor_lost>},
    {"S2",
     "frozen value",
     "lost, alarm",
     {F::canopy_sensor_frozen},
     {},
     Told::none,
     raised<Alarm::canopy_lost>},
    {"S11",
     "probe of the solution silent",
     "heater and chiller off, alarm",
     {F::solution_sensor_silent},
     {},
     Told::none,
     raised<Alarm::sensor_lost>},
    {"S3",
     "wild or silent sensor",
     "lost, alarm",
     {F::canopy_sensor_wild, F::canopy_sensor_silent, F::room_sensor_silent,
      F::level_sensor_silent},
     {},
     Told::none,
     raised<Alarm::canopy_lost, Alarm::room_lost, Alarm::sensor_lost>},
    {"S5",
     "bus of the sensors stuck",
     "their supply is cycled",
     {},
     {},
     Told::bus_stuck_on_a_rail,
     rail_cycled},
    {"S10",
     "every sensor lost at once",
     "floods withheld, air by its fallback, alarms",
     {},
     {Act::all_lost},
     Told::none,
     raised<Alarm::canopy_lost, Alarm::leak_probe_fault>},
    {"PWR1",
     "power cut in a flood",
     "never resumed, cycle closed as interrupted",
     {},
     {},
     Told::cut_in_a_flood,
     ended_as<FloodOutcome::interrupted>},
    {"PWR4",
     "supply sags when the pump starts",
     "start put off, alarm",
     {F::supply_sags},
     {},
     Told::none,
     raised<Alarm::supply_low, Alarm::supply_sags>},
    {"X2", "crash loop, brown-outs", "safe mode", {}, {}, Told::crash_loop, nullptr},
    {"D2",
     "card takes no writes",
     "no flood starts, alarm",
     {},
     {Act::card_fails},
     Told::none,
     raised<Alarm::state_unsaved>},
    {"D3",
     "saved state rots",
     "budget taken as used, latch state, alarm",
     {},
     {},
     Told::state_gone,
     raised<Alarm::state_lost>},
    {"T1",
     "time of day not known",
     "no slot by it, alarm",
     {},
     {Act::time_lost},
     Told::none,
     raised<Alarm::time_unknown>},
    {"T2", "clock steps back", "told, no slot twice", {}, {}, Told::clock_back, clock_told},
    {"T3", "short day", "floods go on", {}, {}, Told::short_day, flooded},
    {"T5",
     "clock jumps days ahead",
     "told, no flood starved",
     {},
     {},
     Told::clock_days_ahead,
     clock_told},
    {"F1",
     "settings changed in mid-grow",
     "taken over, floods go on",
     {},
     {Act::settings_change},
     Told::none,
     flooded},
    {"F6", "reset while still wet", "refused", {}, {}, Told::reset_of_a_wet_latch, reset_refused},
};

}  // namespace

std::span<const Row> rows() { return {kRows.begin(), kRows.size()}; }

void Seen::add(const Seen& other) {
  const auto sum = [](auto& mine, const auto& theirs) {
    for (std::size_t i = 0; i < mine.size(); ++i) mine[i] += theirs[i];
  };
  sum(met, other.met);
  sum(answered, other.answered);
  sum(faults, other.faults);
  sum(latches, other.latches);
  sum(resets, other.resets);
  power_cuts += other.power_cuts;
  kills += other.kills;
  clock_steps += other.clock_steps;
}

void Watcher::happens(const Happening& h, double at_s) {
  if (h.act == Act::fault_begins) ++seen_.faults[static_cast<std::size_t>(h.fault)];
  if (h.act == Act::power_cut || h.act == Act::state_rots) ++seen_.power_cuts;
  if (h.act == Act::kill) ++seen_.kills;
  if (h.act == Act::wall_step) ++seen_.clock_steps;
  for (std::size_t i = 0; i < rows().size(); ++i) {
    const Row& row = rows()[i];
    const bool by_fault =
        h.act == Act::fault_begins &&
        std::find(row.faults.begin(), row.faults.end(), h.fault) != row.faults.end();
    if (by_fault || std::find(row.acts.begin(), row.acts.end(), h.act) != row.acts.end())
      meet(i, at_s);
  }
}

void Watcher::event(const Event& event, double at_s) {
  if (event.kind == EventKind::latch_set) ++seen_.latches[static_cast<std::size_t>(event.latch)];
  if (event.kind == EventKind::latch_reset) ++seen_.resets[static_cast<std::size_t>(event.latch)];
  for (std::size_t i = 0; i < rows().size(); ++i)
    if (since_[i] && rows()[i].answers != nullptr && rows()[i].answers(event)) answer(i, at_s);
}

void Watcher::meets(Told told, double at_s) {
  for (std::size_t i = 0; i < rows().size(); ++i)
    if (rows()[i].told == told) meet(i, at_s);
}

void Watcher::answers(Told told, double at_s) {
  for (std::size_t i = 0; i < rows().size(); ++i)
    if (since_[i] && rows()[i].told == told && rows()[i].answers == nullptr) answer(i, at_s);
}

void Watcher::meet(std::size_t row, double at_s) {
  if (since_[row] && at_s - *since_[row] < kAnswersWithinS) return;  // it stands already
  since_[row] = at_s;
  ++seen_.met[row];
}

void Watcher::answer(std::size_t row, double at_s) {
  if (at_s - *since_[row] < kAnswersWithinS) ++seen_.answered[row];
  since_[row].reset();
}

}  // namespace neap::campaign
