// Every field of Kept, by name, once. The state file writes and reads through this list, and a test
// walks it; adding a field to Kept means adding a line here and nothing else. A name is never given
// to another meaning, and never taken out: an older file leaves a new field at its default, and a
// name that is not known tells that a later neap wrote the file (Stored::of_later).
//
// A visitor is called as visit("name", field) with an integer, bool, double or enum by reference.
#pragma once

#include <string>

#include "daemon/core/state.h"

namespace neap::shell {

namespace kept {

template <class V>
void field(V& visit, const std::string& name, Instant& value) {
  std::int64_t tick = tick_ms(value);
  visit(name, tick);
  value = instant(Millis{tick});
}

template <class V>
void field(V& visit, const std::string& name, Millis& value) {
  std::int64_t count = value.count();
  visit(name, count);
  value = Millis{count};
}

template <class V>
void field(V& visit, const std::string& name, Because& value) {
  visit(name + ".reason", value.reason);
  for (std::size_t i = 0; i < value.args.size(); ++i)
    visit(name + ".arg" + std::to_string(i), value.args[i]);
}

template <class V>
void field(V& visit, const std::string& name, SlotId& value) {
  visit(name + ".date", value.date);
  visit(name + ".number", value.number);
}

template <class V>
void budget(V& visit, PumpBudget& value) {
  for (std::size_t i = 0; i < value.hour_ms.size(); ++i)
    visit("budget.hour_ms." + std::to_string(i), value.hour_ms[i]);
  visit("budget.newest_hour", value.newest_hour);
  for (std::size_t i = 0; i < value.runs.size(); ++i) {
    const std::string name = "budget.run" + std::to_string(i);
    visit(name + ".began_tick", value.runs[i].began_tick);
    visit(name + ".ms", value.runs[i].ms);
    visit(name + ".began_flood", value.runs[i].began_flood);
  }
  visit("budget.run_count", value.run_count);
  visit("budget.run_open", value.run_open);
}

template <class V>
void dwell(V& visit, const std::string& name, Dwell& value) {
  field(visit, name + ".changed", value.changed);
  visit(name + ".changed_known", value.changed_known);
  for (std::size_t i = 0; i < value.starts.size(); ++i)
    visit(name + ".start" + std::to_string(i), value.starts[i]);
  visit(name + ".start_count", value.start_count);
}

template <class V>
void cycle(V& visit, CycleRow& value) {
  const std::string name = "flood.row.";
  visit(name + "started_tick", value.started_tick);
  field(visit, name + "slot", value.slot);
  visit(name + "origin", value.origin);
  visit(name + "outcome", value.outcome);
  field(visit, name + "fill", value.fill);
  field(visit, name + "soak", value.soak);
  field(visit, name + "drain", value.drain);
  field(visit, name + "pump_on", value.pump_on);
  visit(name + "litres_known", value.litres_known);
  visit(name + "litres_out", value.litres_out);
  visit(name + "litres_back", value.litres_back);
  visit(name + "dip_known", value.dip_known);
  visit(name + "vpd_before_kpa", value.vpd_before_kpa);
  visit(name + "vpd_lowest_kpa", value.vpd_lowest_kpa);
  field(visit, name + "recovery", value.recovery);
  visit(name + "recovered", value.recovered);
}

template <class V>
void roots(V& visit, RootsClock& value) {
  visit("roots.running", value.running);
  visit("roots.proven", value.proven);
  visit("roots.cut_short", value.cut_short);
  visit("roots.since_tick", value.since_tick);
  visit("roots.counted_tick", value.counted_tick);
  visit("roots.spent", value.spent);
  visit("roots.rate", value.rate);
  visit("roots.wall_known", value.wall_known);
  visit("roots.wall_ms", value.wall_ms);
  visit("roots.wall_tick", value.wall_tick);
}

template <class V>
void slot(V& visit, const std::string& name, FloodSlot& value) {
  field(visit, name, value.id);
  visit(name + ".start_date", value.start.date);
  visit(name + ".start_second", value.start.second_of_day);
  visit(name + ".asked_date", value.asked.date);
  visit(name + ".asked_second", value.asked.second_of_day);
}

template <class V>
void demand(V& visit, DemandClock& value) {
  visit("demand.running", value.running);
  visit("demand.since_tick", value.since_tick);
  visit("demand.away_ms", value.away_ms);
  visit("demand.counted_tick", value.counted_tick);
  visit("demand.used", value.used);
  visit("demand.rate", value.rate);
  visit("demand.slot_open", value.slot_open);
  slot(visit, "demand.slot", value.slot);
}

template <class V>
void pending(V& visit, FloodPending& value) {
  visit("flood.no_effect_alarm", value.no_effect_alarm);
  visit("flood.fill_alarm", value.fill_alarm);
  visit("flood.float_doubtful", value.float_doubtful);
  visit("flood.retry_pending", value.retry_pending);
  visit("flood.retries", value.retries);
  visit("flood.retry_at_tick", value.retry_at_tick);
}

template <class V>
void alarm(V& visit, const std::string& name, AlarmRecord& value) {
  visit(name + ".state", value.state);
  visit(name + ".condition", value.condition);
  field(visit, name + ".condition_since", value.condition_since);
  field(visit, name + ".raised", value.raised);
  field(visit, name + ".shelved_until", value.shelved_until);
  field(visit, name + ".because", value.because);
  visit(name + ".raised_count", value.raised_count);
}

template <class V>
void tally(V& visit, DayTally& value) {
  const std::string name = "day.";
  visit(name + "date", value.date);
  visit(name + "began_tick", value.began_tick);
  field(visit, name + "day_known", value.day_known);
  field(visit, name + "day_in_band", value.day_in_band);
  field(visit, name + "night_known", value.night_known);
  field(visit, name + "night_in_band", value.night_in_band);
  field(visit, name + "below", value.below);
  field(visit, name + "above", value.above);
  visit(name + "kpa_h_out", value.kpa_h_out);
  field(visit, name + "humid", value.humid);
  visit(name + "floods_planned", value.floods_planned);
  visit(name + "floods_started", value.floods_started);
  visit(name + "floods_complete", value.floods_complete);
  visit(name + "litres_out", value.litres_out);
  visit(name + "litres_back", value.litres_back);
  field(visit, name + "pump_on", value.pump_on);
  field(visit, name + "dehumidifier_on", value.dehumidifier_on);
  visit(name + "dehumidifier_starts", value.dehumidifier_starts);
  field(visit, name + "humidifier_on", value.humidifier_on);
  visit(name + "fan_hours", value.fan_hours);
  visit(name + "fan_moves", value.fan_moves);
  visit(name + "vpd_lowest", value.vpd_lowest);
  visit(name + "vpd_highest", value.vpd_highest);
  visit(name + "any_vpd", value.any_vpd);
}

}  // namespace kept

template <class V>
void visit_kept(V& visit, Kept& value) {
  for (const LatchInfo& row : kLatches)
    visit("latch." + std::string(row.name),
          value.kernel.latched[static_cast<std::size_t>(row.latch)]);
  kept::budget(visit, value.budget);
  for (const OutputInfo& row : kOutputs)
    kept::dwell(visit, "dwell." + std::string(row.name), value.dwell[row.output]);
  kept::field(visit, "flood.learnt_fill", value.flood_learnt.fill);
  kept::field(visit, "flood.learnt_drain", value.flood_learnt.drain);
  visit("flood.fills", value.flood_learnt.fills);
  visit("flood.drains", value.flood_learnt.drains);
  visit("flood.was_running", value.flood_was_running);
  kept::cycle(visit, value.flood_row);
  visit("flood.last_ended_tick", value.last_flood_ended_tick);
  visit("flood.any_ended", value.any_flood_ended);
  visit("slots.date", value.slots_date);
  visit("slots.done", value.slots_done);
  visit("slots.date_before", value.slots_date_before);
  visit("slots.done_before", value.slots_done_before);
  visit("stage.index", value.stage_index);
  visit("stage.entered_date", value.stage_entered_date);
  visit("stage.known", value.stage_known);
  visit("flood.missed", value.flood_missed);
  kept::roots(visit, value.roots);
  visit("catch_up.pending", value.catch_up_pending);
  kept::slot(visit, "catch_up.slot", value.catch_up_slot);
  kept::pending(visit, value.flood_pending);
  visit("slots.ahead", value.page_ahead);
  visit("service.on", value.service);
  visit("service.until_tick", value.service_until_tick);
  visit("step_test.on", value.step_test);
  visit("step_test.of", value.step_test_of);
  visit("law.id", value.law.law);
  for (std::size_t i = 0; i < value.law.numbers.size(); ++i)
    visit("law.number" + std::to_string(i), value.law.numbers[i]);
  for (std::size_t i = 0; i < value.law.ticks.size(); ++i)
    visit("law.tick" + std::to_string(i), value.law.ticks[i]);
  for (std::size_t i = 0; i < value.supply_sags.ticks.size(); ++i)
    visit("supply.sag" + std::to_string(i), value.supply_sags.ticks[i]);
  visit("supply.sags", value.supply_sags.count);
  for (std::size_t i = 0; i < kAlarmCount; ++i)
    kept::alarm(visit, "alarm." + std::to_string(i), value.alarms[i]);
  kept::tally(visit, value.tally);
  visit("balance.score", value.balance.score);
  visit("balance.l_per_h", value.balance.l_per_h);
  visit("balance.hours", value.balance.hours);
  for (const ProofTestInfo& row : kProofTests) {
    ProofRecord& record = value.proofs[static_cast<std::size_t>(row.test)];
    const std::string name = "proof." + std::string(row.name);
    visit(name + ".done", record.done);
    visit(name + ".dated", record.dated);
    visit(name + ".at_unix_ms", record.at_unix_ms);
    visit(name + ".hardware", record.hardware);
  }
  for (std::size_t i = 0; i < kWatchedHands; ++i) {
    HandReading& hand = value.hands[i];
    const std::string name = "hand." + std::string(kHands[i].name);
    visit(name + ".known", hand.known);
    visit(name + ".value", hand.value);
    visit(name + ".taken_unix_ms", hand.taken_unix_ms);
    visit(name + ".id", hand.id);
  }
  for (const ProbeInfo& row : kProbes) {
    Calibration& made = value.calibrations[static_cast<std::size_t>(row.probe)];
    const std::string name = "calibration." + std::string(row.name);
    visit(name + ".made", made.made);
    visit(name + ".zero", made.zero);
    visit(name + ".slope", made.slope);
    visit(name + ".celsius", made.celsius);
    visit(name + ".dated", made.dated);
    visit(name + ".at_unix_ms", made.at_unix_ms);
    visit(name + ".hardware", made.hardware);
  }
  visit("solution.known", value.solution_age.known);
  visit("solution.changed_unix_ms", value.solution_age.changed_unix_ms);
  visit("solution.change_id", value.solution_age.change_id);
  visit("solution.replaced_l", value.solution_age.replaced_l);
  visit("solution.topup_id", value.solution_age.topup_id);
  visit("solution.watched_from", value.solution_age.watched_from);
  for (const OutputInfo& row : kOutputs)
    visit("another_hand." + std::string(row.name), value.in_another_hand[row.output]);
  kept::demand(visit, value.demand);
}

}  // namespace neap::shell
