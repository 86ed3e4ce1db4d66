// Rows of the journal made into the core's types again: the inverse of store_entries.cpp.
#pragma once

#include <string>

#include "daemon/core/event.h"
#include "daemon/journal/sqlite.h"

namespace neap::journal {

// What a SELECT lists for the functions below; tables are called e, c and d in it.
inline const std::string kEventColumns =
    "e.number, e.tick, e.kind, e.reason, e.a0, e.a1, e.a2, e.output, e.level, e.point, e.alarm, "
    "e.alarm_from, e.alarm_to, e.latch, e.phase, e.slot_date, e.slot_number, e.value, e.request, "
    "e.accepted, e.name";
constexpr int kEventColumnCount = 21;
inline const std::string kCycleColumns =
    "c.started, c.slot_date, c.slot_number, c.origin, c.outcome, c.fill_ms, c.soak_ms, "
    "c.drain_ms, c.pump_on_ms, c.litres_out, c.litres_back, c.vpd_before_kpa, c.vpd_lowest_kpa, "
    "c.recovery_ms, c.recovered";
constexpr int kCycleColumnCount = 15;
inline const std::string kDayColumns =
    "d.began, d.date, d.day_known_ms, d.day_in_band_ms, d.night_known_ms, d.night_in_band_ms, "
    "d.below_ms, d.above_ms, d.kpa_h_out, d.humid_ms, d.floods_planned, d.floods_started, "
    "d.floods_complete, d.litres_out, d.litres_back, d.pump_on_ms, d.dehumidifier_on_ms, "
    "d.dehumidifier_starts, d.humidifier_on_ms, d.fan_hours, d.fan_moves, d.vpd_lowest_kpa, "
    "d.vpd_highest_kpa";

// `first` is the place of the first of the columns above. The event comes without cycle, day and
// name (the last column).
Event read_event(const Statement& row, int first);
CycleRow read_cycle(const Statement& row, int first);
DayTally read_day(const Statement& row, int first);
Because read_because(const Statement& row, int first);  // reason, a0, a1, a2

}  // namespace neap::journal
