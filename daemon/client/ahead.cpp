#include "daemon/client/ahead.h"

#include <algorithm>

namespace neap::client {
namespace {

const StagePlan& stage_of(const Plan& plan, const StageNow& now) {
  return plan.programme.stages[static_cast<std::size_t>(now.index)];
}

std::optional<double> pump_seconds(const Plan& plan, const FloodPlan& floods, std::size_t count) {
  if (!(plan.table.pump_l_per_h > 0)) return std::nullopt;
  const bool has_valve = plan.table.drain_path == DrainPath::drain_valve;
  const double litres =
      floods.depth == Depth::by_litres ? floods.litres.value : plan.table.flood_volume.value;
  const double fill = litres / plan.table.pump_l_per_h * 3600;
  const double soak =
      soaks(plan, floods) && !has_valve ? static_cast<double>(floods.soak.count()) / 1000 : 0;
  return static_cast<double>(count) * (fill + soak);
}

// Slots that start on one day belong to its own photoperiod or to a neighbour's.
std::vector<FloodSlot> slots_on(const Plan& plan, const StagePlan& stage, std::int32_t date) {
  std::vector<FloodSlot> found;
  for (std::int32_t photoperiod = date - 1; photoperiod <= date + 1; ++photoperiod) {
    FloodSlots slots;
    slots_of(plan.programme, stage, photoperiod, slots);
    for (const FloodSlot& slot : slots)
      if (slot.start.date == date) found.push_back(slot);
  }
  std::sort(found.begin(), found.end(),
            [](const FloodSlot& a, const FloodSlot& b) { return a.start < b.start; });
  return found;
}

AheadDay day_of(const Plan& plan, const StagePlan& stage, std::int32_t date, CivilTime from) {
  AheadDay day;
  day.date = date;
  const auto coming = [&](std::int32_t second) { return CivilTime{date, second} >= from; };
  if (!stage.fallow && stage.light_length_s > 0) {
    const std::int32_t off = (stage.lights_on_s + stage.light_length_s) % kSecondsPerDay;
    const bool dark_at_all = stage.light_length_s < kSecondsPerDay;
    if (dark_at_all && coming(stage.lights_on_s)) day.lights_on_s = stage.lights_on_s;
    if (dark_at_all && coming(off)) day.lights_off_s = off;
  }
  for (const FloodSlot& slot : slots_on(plan, stage, date))
    if (slot.start >= from) day.floods.push_back(slot);
  day.pump_s = pump_seconds(plan, stage.floods, day.floods.size());
  return day;
}

}  // namespace

bool soaks(const Plan& plan, const FloodPlan& floods) {
  const bool has_valve = plan.table.drain_path == DrainPath::drain_valve;
  return floods.soak > Millis{0} && (has_valve || floods.depth == Depth::by_float);
}

StageNow stage_by_days(const ProgrammePlan& programme, std::int32_t date) {
  StageNow now{0, std::min(programme.start_date, date), false};
  while (now.index + 1 < static_cast<int>(programme.stages.size())) {
    const int days = programme.stages[static_cast<std::size_t>(now.index)].days;
    if (days == 0 || date < now.entered_date + days) break;
    now.entered_date += days;
    ++now.index;
  }
  return now;
}

StageNow stage_in_journal(journal::Reader& reader, const ProgrammePlan& programme,
                          std::int32_t date, std::optional<std::int64_t> until_tick) {
  const auto entered = reader.events({std::nullopt, until_tick}, {EventKind::stage}, 2);
  if (entered.empty() || !entered.back().at.unix_ms) return stage_by_days(programme, date);
  const journal::EventRow& last = entered.back();
  if (last.event.number < 0 ||
      last.event.number >= static_cast<std::int32_t>(programme.stages.size()))
    return stage_by_days(programme, date);
  const std::int32_t on =
      civil_of({*last.at.unix_ms, last.at.utc_offset_s, TimeQuality::synced}).date;
  // The first stage of all was chosen by days, and may have begun before the journal.
  const StageNow first = stage_by_days(programme, on);
  if (entered.size() == 1 && first.index == last.event.number)
    return {first.index, first.entered_date, true};
  return {last.event.number, on, true};
}

Ahead look_ahead(const Plan& plan, const StageNow& stage, CivilTime from, int days) {
  Ahead ahead{from, stage, std::nullopt, {}};
  const StagePlan& in_force = stage_of(plan, stage);
  const bool another = stage.index + 1 < static_cast<int>(plan.programme.stages.size());
  if (in_force.days > 0 && another) ahead.stage_due = stage.entered_date + in_force.days;
  for (int i = 0; i < days; ++i) ahead.days.push_back(day_of(plan, in_force, from.date + i, from));
  return ahead;
}

}  // namespace neap::client
