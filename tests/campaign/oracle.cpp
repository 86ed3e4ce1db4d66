#include "tests/campaign/oracle.h"

#include <algorithm>
#include <cstdio>

#include "daemon/core/pump_contacts.h"

namespace neap::campaign {
namespace {

using drivers::simulated::ContactChannel;
using drivers::simulated::FaultsNow;
using drivers::simulated::TentFault;

constexpr double kSlackS = 2;
// A pin that stays while the process is dead: until the service manager's helper or the next start
// drives it safe.
constexpr double kDeadS = 10;
constexpr double kDryS = 15;
constexpr double kUncoveredL = 4;  // under the level at which it is to be off
constexpr double kLowFloatL = 10;  // the same by the float
constexpr double kBlindS = 200;    // a probe's last value counts for a minute or two
// In the tray: the shortest flood by time alone fills the shallowest depth to three fifths.
constexpr double kWateredL = 9;
constexpr double kThirstToldS = 48 * 3600.0;
constexpr double kNextSlotS = 24 * 3600.0;  // no programme here leaves more between two floods
constexpr double kLeakToldS = 5;            // and a scan
constexpr double kSeriesStopsS = 8;         // a trial of one contact, and a scan
constexpr double kWeldToldS = 20;           // what a level or a contact needs to be sure
constexpr double kOldS = 62;  // a contact's age at which it is no reading any more, and a scan
constexpr double kRimSlackL = 0.5;
constexpr double kSameDayS = 20 * 3600.0;
constexpr double kFarAheadS = 6 * 3600.0;
constexpr double kHealedWithinS = 30 * 3600.0;

std::string number(const char* format, double a, double b) {
  std::array<char, 160> text{};
  std::snprintf(text.data(), text.size(), format, a, b);
  return text.data();
}

double seconds_of(Millis span) { return static_cast<double>(span.count()) / 1000; }

}  // namespace

Oracle::Oracle(const World& world, const Plan& plan)
    : world_(world), plan_(plan), healed_s_(static_cast<double>(world.heals_s)) {}

void Oracle::fail(int invariant, double at_s, std::string what) {
  bool& already = failed_[static_cast<std::size_t>(invariant)];
  if (already) return;
  already = true;
  violations_.push_back({invariant, at_s, std::move(what)});
}

// What was there before may be told anew within its time.
void Oracle::began() {
  crashed_since_ = true;
  wet_s_ = weld_s_ = series_s_ = 0;
}

void Oracle::crashed(bool unsaved) {
  if (unsaved) latched_ = {};
  crashed_since_ = true;
  ++crashes_;
}

void Oracle::settings_changed(const TablePlan& before) {
  flood_before_s_ = seconds_of(before.max_on_per_flood);
  day_before_s_ = seconds_of(before.max_on_per_day);
}

void Oracle::moment(const Moment& m) {
  if (m.outcome != nullptr) flood_before_s_ = day_before_s_ = 0;
  if (m.powered && !m.proven)
    for (const OutputInfo& row : kOutputs)
      if (const auto& fitted = plan_.outputs[row.output];
          fitted && (*m.pins)[row.output] != fitted->safe)
        fail(9, m.now_s, std::string(row.name) + " is driven before its safe level was proven");
  pump(m);
  water(m);
  compressor(m);
  tempering(m);
  if (m.powered && (*m.pins)[Output::air_pump] == kStopped) fail(27, m.now_s, "air pump stopped");
  if (m.state == nullptr) return;
  told(m);
  pump_switch(m);
  button(m);
  roots(m);
  latches(m);
  if (m.state->denials.at.front()) fail(2, m.now_s, "a part asked for the pump against a trip");
  if (m.outcome != nullptr) events(m);
  if (world_.calm) calm(m);
}

// The pump has current, as far as its contacts obey.
bool Oracle::energised(const Moment& m) const {
  return pump_told(plan_, (*m.pins)[Output::pump], (*m.pins)[Output::pump_series]) ==
         PumpTold::runs;
}

// The pump may run whatever is commanded.
bool Oracle::held_on(const Moment& m) const {
  const FaultsNow& f = *m.faults;
  return f[TentFault::pump_welded] || f[TentFault::pump_contact_welded] ||
         f[TentFault::pump_series_welded] || f[TentFault::pump_switch_hand];
}

// 29, 30. Its switch says who has the pump: neap drives nothing that a hand has, and blames no
// contact for what a hand does.
void Oracle::pump_switch(const Moment& m) {
  if (!plan_.points[Point::pump_auto]) return;
  const FaultsNow& f = *m.faults;
  if (f[TentFault::pump_welded] || f[TentFault::pump_contact_welded] ||
      f[TentFault::pump_series_welded])
    welded_s_ = m.now_s;
  const bool fresh = m.contacts != nullptr && m.contacts_age_s < kSlackS;
  const bool reads_out_of_automatic =
      fresh && (*m.contacts)[static_cast<std::size_t>(ContactChannel::pump_auto)] == Contact::clear;
  if (energised(m) && reads_out_of_automatic && m.powered && m.outcome != nullptr)
    fail(29, m.now_s, "the pump is driven though its switch is not in automatic");
  if (m.outcome == nullptr) return;
  for (const Event& event : m.outcome->events)
    if (event.kind == EventKind::latch_set && event.latch == Latch::pump_welded &&
        m.now_s - welded_s_ > kWeldToldS)
      fail(30, m.now_s, "a contact is called welded, and none is");
}

// 31. Whatever a finger or a wire does, and whichever readings of it are missed: no short press
// floods, and no button that is stuck.
void Oracle::button(const Moment& m) {
  const bool down = (*m.faults)[TentFault::button_pressed];
  if (down && !was_down_) down_s_ = m.now_s;
  if (!down && was_down_) {
    pressed_for_s_ = m.now_s - down_s_;
    let_go_s_ = m.now_s;
  }
  was_down_ = down;
  if (m.outcome == nullptr) return;
  for (const Event& event : m.outcome->events) {
    const bool floods = event.kind == EventKind::request && event.request_id == kButtonRequest &&
                        static_cast<RequestKind>(event.number) == RequestKind::flood_start;
    const bool just_let_go = m.now_s - let_go_s_ < kOldS;  // and read since
    if (floods && (!just_let_go || pressed_for_s_ < 2 || pressed_for_s_ > 30 + kOldS))
      fail(31, m.now_s, number("the button asks for a flood after %.0f s%.0s", pressed_for_s_, 0));
  }
}

// 1, 2, 3, 4, 14.
void Oracle::pump(const Moment& m) {
  const bool on = energised(m);
  if (pumping_ && !runs_.empty()) runs_.back().lasted_s = m.now_s - runs_.back().began_s;
  if (on && !pumping_) runs_.push_back({m.now_s, 0});
  pumping_ = on;
  while (!runs_.empty() && runs_.front().began_s + runs_.front().lasted_s < m.now_s - 86400)
    runs_.pop_front();
  if (!on) return;
  const double most = std::max(seconds_of(plan_.table.max_on_per_flood), flood_before_s_);
  if (runs_.back().lasted_s > most + kSlackS + kDeadS)
    fail(3, m.now_s, number("the pump runs for %.0f s, %.0f allowed", runs_.back().lasted_s, most));
  double day = 0;
  for (const Run& run : runs_) day += run.lasted_s - std::max(0.0, m.now_s - 86400 - run.began_s);
  const double cap = std::max(seconds_of(plan_.table.max_on_per_day), day_before_s_);
  if (day > cap + kSlackS + crashes_ * (kSlackS + kDeadS))
    fail(4, m.now_s, number("the pump ran %.0f s in 24 h, %.0f allowed", day, cap));
  if (m.outcome == nullptr) return;
  for (const bool latched : m.state->kept.kernel.latched)
    if (latched) fail(2, m.now_s, "the pump runs behind a latch");
  if (m.contacts_age_s > kOldS)
    fail(14, m.now_s,
         number("the pump runs by contacts %.0f s old, %.0f allowed", m.contacts_age_s, kOldS));
  if (m.contacts == nullptr) return;
  for (const auto channel :
       {ContactChannel::leak_floor, ContactChannel::leak_rack, ContactChannel::leak_reservoir}) {
    const auto seen = (*m.contacts)[static_cast<std::size_t>(channel)];
    const Point point = channel == ContactChannel::leak_floor  ? Point::leak_floor
                        : channel == ContactChannel::leak_rack ? Point::leak_rack
                                                               : Point::leak_reservoir;
    if (plan_.points[point] && (seen == Contact::set || seen == Contact::faulty))
      fail(1, m.now_s, "the pump runs while a leak probe is wet or cannot be read");
  }
}

bool Oracle::water_fault(const Moment& m) const {
  int active = 0;
  for (const TentFault fault :
       {TentFault::standpipe_blocked, TentFault::tray_float_stuck_clear, TentFault::pump_welded,
        TentFault::reservoir_float_stuck, TentFault::level_sensor_silent})
    active += (*m.faults)[fault] ? 1 : 0;
  // What is not fitted guards no better than what is broken.
  const bool standpipe_alone =
      !plan_.points[Point::tray_high] && !plan_.points[Point::reservoir_level];
  return active + (standpipe_alone ? 1 : 0) >= 2 || held_on(m);
}

// 7, 8.
void Oracle::water(const Moment& m) {
  const drivers::simulated::State& truth = *m.truth;
  // What stands there from a fault that has just ended runs off; more must not come.
  const bool rises = truth.tray_kg > tray_before_l_;
  tray_before_l_ = truth.tray_kg;
  if (truth.tray_kg > plan_.table.tray_capacity.value + kRimSlackL && rises && !water_fault(m))
    fail(7, m.now_s,
         number("%.1f L in a tray of %.0f L", truth.tray_kg, plan_.table.tray_capacity.value));
  const bool blind = (*m.faults)[TentFault::reservoir_float_stuck] || held_on(m);
  const bool dry = energised(m) && truth.reservoir_kg < 1 && !blind;
  dry_s_ = dry ? dry_s_ + m.since_s : 0;
  if (dry_s_ > kDryS) fail(8, m.now_s, number("the pump runs dry for %.0f s%.0s", dry_s_, 0));
}

// 32, 33. What hangs in the reservoir runs under water, and a heater by what is known of it.
void Oracle::tempering(const Moment& m) {
  const FaultsNow& f = *m.faults;
  const auto runs = [&](Output output) {
    return plan_.outputs[output] && (*m.pins)[output] > kStopped;
  };
  const bool heats = runs(Output::water_heater), cools = runs(Output::water_chiller);
  const bool level_lies =
      f[TentFault::level_sensor_silent] || !plan_.points[Point::reservoir_level];
  const bool blind = f[TentFault::reservoir_float_stuck] && level_lies;
  const double covered = plan_.points[Point::reservoir_level]
                             ? plan_.water.covered_at.value_or(plan_.table.reservoir_minimum).value
                             : kLowFloatL;
  const bool uncovered =
      (heats || cools) && m.truth->reservoir_kg < covered - kUncoveredL && !blind;
  uncovered_s_ = uncovered ? uncovered_s_ + m.since_s : 0;
  if (uncovered_s_ > kDryS)
    fail(32, m.now_s, number("heater or chiller out of water for %.0f s%.0s", uncovered_s_, 0));
  const bool unread = f[TentFault::solution_sensor_silent];
  blind_s_ = heats && unread ? blind_s_ + m.since_s : 0;
  if (blind_s_ > kBlindS)
    fail(33, m.now_s, number("the heater runs for %.0f s%.0s without a reading", blind_s_, 0));
  const double most = plan_.water.hottest.value + 1;
  if (heats && !unread && m.truth->reservoir_c > most)
    fail(33, m.now_s,
         number("the heater runs in water of %.1f C, %.1f allowed", m.truth->reservoir_c, most));
}

// 13. A start less than min_off after a stop, a stop less than min_on after a start; what a crash
// or a cut does to a relay is nobody's decision.
void Oracle::compressor(const Moment& m) {
  const auto& fitted = plan_.outputs[Output::dehumidifier];
  if (!fitted) return;
  const bool on = (*m.pins)[Output::dehumidifier] > kStopped;
  if (on == drying_) return;
  drying_ = on;
  const double since = m.now_s - compressor_changed_s_;
  const double least = seconds_of(on ? fitted->min_off : fitted->min_on);
  const bool tripped = m.state != nullptr && m.state->verdicts.of[Output::dehumidifier].trip;
  if (m.powered && m.outcome != nullptr && since < least - kSlackS && !crashed_since_ && !tripped)
    fail(13, m.now_s, number("the compressor changes after %.0f s, least %.0f", since, least));
  compressor_changed_s_ = m.now_s;
  crashed_since_ = false;
}

// 6, 15. A probe that is wet, and a pump that turns though nobody drives it, are told within
// seconds; and a second contact stops it.
void Oracle::told(const Moment& m) {
  const auto standing = [&](Alarm alarm) {
    return m.state->kept.alarms[static_cast<std::size_t>(alarm)].state != AlarmState::normal;
  };
  const bool wet =
      m.contacts != nullptr && m.contacts_heard &&
      (*m.contacts)[static_cast<std::size_t>(ContactChannel::leak_floor)] == Contact::set;
  wet_s_ = wet && was_wet_ && m.powered ? wet_s_ + m.since_s : 0;
  was_wet_ = wet;
  if (wet_s_ > kLeakToldS && !standing(Alarm::leak))
    fail(15, m.now_s, number("the floor is wet for %.0f s%.0s and nobody is told", wet_s_, 0));
  const bool seen = plan_.points[Point::pump_running] && m.contacts != nullptr && m.powered;
  const bool turns = seen && m.truth->floats.pump_running && !energised(m);
  weld_s_ = turns && turned_ ? weld_s_ + m.since_s : 0;
  turned_ = turns;
  if (weld_s_ > kWeldToldS && !standing(Alarm::pump_welded) && !standing(Alarm::pump_in_hand) &&
      !standing(Alarm::pump_off_auto))
    fail(15, m.now_s, number("the pump turns by itself for %.0f s%.0s", weld_s_, 0));
  const FaultsNow& f = *m.faults;
  const bool one_holds = plan_.outputs[Output::pump_series] && !f[TentFault::pump_welded] &&
                         !f[TentFault::pump_switch_hand] &&
                         !(f[TentFault::pump_contact_welded] && f[TentFault::pump_series_welded]);
  series_s_ = turns && one_holds && held_ ? series_s_ + m.since_s : 0;
  held_ = turns && one_holds;
  if (series_s_ > kSeriesStopsS)
    fail(6, m.now_s, number("the second contact did not stop it in %.0f s%.0s", series_s_, 0));
}

// 28. Whatever withholds, misses or fails the floods: roots that had no water for days are told of.
void Oracle::roots(const Moment& m) {
  if (m.truth->tray_kg > kWateredL) watered_s_ = m.now_s;
  const auto standing = [&](Alarm alarm) {
    return m.state->kept.alarms[static_cast<std::size_t>(alarm)].state != AlarmState::normal;
  };
  // After a lost state nobody knows when the roots had water; the person who has looked and has
  // reset the latch is told anew with the next flood that is withheld.
  if (standing(Alarm::state_lost)) state_lost_s_ = m.now_s;
  const bool known = standing(Alarm::roots_thirsty) || standing(Alarm::roots_dry) ||
                     m.now_s - state_lost_s_ < kNextSlotS;
  if (m.now_s - watered_s_ > kThirstToldS && !known)
    fail(28, m.now_s,
         number("no water for %.0f h, nobody is told after %.0f h", (m.now_s - watered_s_) / 3600,
                kThirstToldS / 3600));
}

// 18. A latch goes by a granted reset alone.
void Oracle::latches(const Moment& m) {
  const auto& now = m.state->kept.kernel.latched;
  for (const LatchInfo& row : kLatches) {
    const auto i = static_cast<std::size_t>(row.latch);
    if (latched_[i] && !now[i] && m.outcome != nullptr) {
      const auto& events = m.outcome->events;
      const bool granted = std::any_of(events.begin(), events.end(), [&](const Event& e) {
        return e.kind == EventKind::latch_reset && e.latch == row.latch;
      });
      if (!granted) fail(18, m.now_s, "latch " + std::string(row.name) + " went without a reset");
    }
    latched_[i] = now[i];
  }
}

// 5, 19, and what the later checks count.
void Oracle::events(const Moment& m) {
  for (const Event& event : m.outcome->events) {
    if (event.kind == EventKind::cycle_closed && event.cycle.outcome == FloodOutcome::complete) {
      ++floods_complete_;
      complete_after_heal_ = complete_after_heal_ || m.now_s > healed_s_;
    }
    if (event.kind != EventKind::flood_phase || event.phase != FloodPhase::fill) continue;
    const CycleRow& row = m.state->flood.row;
    if (row.origin == FloodOrigin::retry) continue;
    flood_starts_.push_back(m.now_s);
    while (flood_starts_.front() < m.now_s - 3600) flood_starts_.pop_front();
    if (static_cast<int>(flood_starts_.size()) > plan_.table.max_floods_per_hour)
      fail(5, m.now_s,
           number("%.0f floods in an hour, %.0f allowed", static_cast<double>(flood_starts_.size()),
                  plan_.table.max_floods_per_hour));
    if (row.slot.number == 0) continue;
    // A clock that was far ahead has used the names of a day to come: those may come again.
    const bool again = std::any_of(fired_.begin(), fired_.end(), [&](const Fired& fired) {
      const double since_s = m.now_s - fired.at_s;
      const bool of_a_day_to_come = fired.ahead_s > kFarAheadS && since_s > kFarAheadS;
      return fired.slot == row.slot && fired.other_settings == m.other_settings &&
             since_s < kSameDayS && !of_a_day_to_come;
    });
    if (again) fail(19, m.now_s, "slot " + std::to_string(row.slot.number) + " flooded twice");
    fired_.push_back({row.slot, m.other_settings, m.now_s, m.clock_ahead_s});
  }
}

// 26.
void Oracle::calm(const Moment& m) {
  for (const AlarmInfo& row : kAlarms) {
    const AlarmState state = m.state->kept.alarms[static_cast<std::size_t>(row.alarm)].state;
    if (state == AlarmState::normal && row.alarm == Alarm::canopy_lost) mute_ = false;
    if (state == AlarmState::normal || row.priority <= Priority::low) continue;
    // Air and water of a drawn room may be out of reach of what is fitted: that is no nuisance.
    if (row.alarm == Alarm::over_temperature || row.alarm == Alarm::under_temperature ||
        row.alarm == Alarm::humidity_high || row.alarm == Alarm::vpd_out_of_band ||
        row.alarm == Alarm::condensation || row.alarm == Alarm::water_off_band ||
        row.alarm == Alarm::water_far_off)
      continue;
    // A probe that has not answered once since the start is rightly told of, until a person has
    // seen the alarm.
    if (row.alarm == Alarm::canopy_lost) {
      mute_ = mute_ || !m.state->points[Point::canopy_temperature].any_good;
      if (mute_) continue;
    }
    fail(26, m.now_s, "alarm " + std::string(row.name) + " though nothing is wrong");
  }
}

void Oracle::ended(double now_s) {
  if (world_.calm && floods_complete_ == 0) fail(25, now_s, "a calm week without a flood");
  if (!world_.calm && now_s - healed_s_ > kHealedWithinS && !complete_after_heal_)
    fail(25, now_s, "no flood since everything healed");
}

}  // namespace neap::campaign
