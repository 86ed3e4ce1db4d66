#include "daemon/core/programme.h"

#include <algorithm>
#include <cstddef>

#include "daemon/core/demand.h"

namespace neap {
namespace {

constexpr int kDaysAhead = 3;

// Seconds after lights-on, within one photoperiod's 24 h.
using Offsets = FixedVector<std::int32_t, kMaxSlotsPerDay>;

CivilTime lights_on_of(const StagePlan& stage, std::int32_t date) {
  return {date, stage.lights_on_s};
}

std::int32_t date_of_photoperiod(const StagePlan& stage, CivilTime now) {
  return now.second_of_day >= stage.lights_on_s ? now.date : now.date - 1;
}

std::int32_t seconds_since_lights_on(const StagePlan& stage, CivilTime now) {
  const CivilTime on = lights_on_of(stage, date_of_photoperiod(stage, now));
  return static_cast<std::int32_t>(civil_seconds_between(on, now));
}

std::int32_t light_length(const StagePlan& stage) {
  return stage.fallow ? 0 : stage.light_length_s;
}

Kilopascal between(Kilopascal from, Kilopascal to, double part) {
  return from + (to - from) * part;
}

void insert_in_order(Offsets& offsets, std::int32_t offset) {
  if (std::find(offsets.begin(), offsets.end(), offset) != offsets.end()) return;
  if (!offsets.push(offset)) return;
  std::sort(offsets.begin(), offsets.end());
}

void spread_over_light(const FloodPlan& floods, std::int32_t light_s, Offsets& out) {
  const std::int32_t first = floods.first_after_s;
  const std::int32_t last = std::max(first, light_s - floods.last_before_s);
  if (first >= light_s) return;
  const std::int64_t gaps = std::min(floods.count, kMaxSlotsPerDay) - 1;
  for (std::int64_t i = 0; i <= gaps; ++i) {
    const std::int64_t step = gaps == 0 ? 0 : (last - first) * i / gaps;
    insert_in_order(out, static_cast<std::int32_t>(first + step));
  }
}

// The times as the schedule asks for them. Without light only fixed clock times mean anything.
void asked_offsets(const StagePlan& stage, Offsets& out) {
  const FloodPlan& floods = stage.floods;
  const std::int32_t light_s = light_length(stage);
  switch (floods.rule) {
    case SlotRule::none:
    case SlotRule::by_demand:
      return;
    case SlotRule::after_lights_on:
      if (light_s == 0) return;
      for (const std::int32_t after : floods.times_s)
        if (after >= 0 && after < kSecondsPerDay) insert_in_order(out, after);
      return;
    case SlotRule::spread:
      spread_over_light(floods, light_s, out);
      return;
    case SlotRule::at_times:
      for (const std::int32_t at : floods.times_s)
        insert_in_order(out, (at - stage.lights_on_s + kSecondsPerDay) % kSecondsPerDay);
      return;
  }
}

// Where a flood asked for in quiet hours goes: their end or just before them, in the light if one
// of the two is, else in the dark but within the same photoperiod, so that slots of different days
// keep their order. Quiet hours of nearly a whole day leave only their end.
std::int32_t moved_offset(const QuietHours& quiet, const StagePlan& stage, std::int32_t asked) {
  const std::int32_t second = (stage.lights_on_s + asked) % kSecondsPerDay;
  if (!in_quiet_hours(quiet, second)) return asked;
  const std::int32_t into = (second - quiet.from_s + kSecondsPerDay) % kSecondsPerDay;
  const std::int32_t left = (quiet.to_s - second + kSecondsPerDay) % kSecondsPerDay;
  const std::int32_t end = asked + left;
  const std::int32_t before = asked - into - kBeforeQuiet;
  if (into + left + kBeforeQuiet > kSecondsPerDay) return end;
  const std::int32_t light_s = light_length(stage);
  if (end < light_s) return end;
  if (before >= 0 && before < light_s) return before;
  if (end < kSecondsPerDay) return end;
  return before >= 0 ? before : end;
}

bool starts_with_another(const FloodSlots& slots, CivilTime start) {
  return std::any_of(slots.begin(), slots.end(),
                     [&](const FloodSlot& slot) { return slot.start == start; });
}

}  // namespace

CivilTime later(CivilTime from, std::int64_t by_s) {
  const std::int64_t second = from.second_of_day + by_s;
  const std::int64_t days = (second >= 0 ? second : second - kSecondsPerDay + 1) / kSecondsPerDay;
  return {static_cast<std::int32_t>(from.date + days),
          static_cast<std::int32_t>(second - days * kSecondsPerDay)};
}

LightEdges photoperiod_at(const StagePlan& stage, CivilTime now) {
  const CivilTime on = lights_on_of(stage, date_of_photoperiod(stage, now));
  return {on, later(on, light_length(stage))};
}

bool is_light(const StagePlan& stage, CivilTime now) {
  return seconds_since_lights_on(stage, now) < light_length(stage);
}

Permille light_level_at(const StagePlan& stage, CivilTime now) {
  const std::int32_t light_s = light_length(stage);
  const std::int32_t since_on = seconds_since_lights_on(stage, now);
  if (since_on >= light_s) return kStopped;
  if (stage.light_ramp_s <= 0 || light_s >= kSecondsPerDay) return stage.light_level;
  const std::int64_t into = std::min({since_on, light_s - since_on, stage.light_ramp_s});
  return Permille{static_cast<int>(stage.light_level.value * into / stage.light_ramp_s)};
}

Band band_at(const StagePlan& stage, CivilTime now) {
  const std::int32_t light_s = light_length(stage);
  if (light_s == 0) return stage.vpd_night;
  if (light_s >= kSecondsPerDay) return stage.vpd_day;
  const std::int32_t since_on = seconds_since_lights_on(stage, now);
  const bool day = since_on < light_s;
  // A ramp longer than the day or the night it lies in would never arrive: it is shortened.
  const std::int32_t ramp = std::min({stage.band_ramp_s, light_s, kSecondsPerDay - light_s});
  const std::int32_t since_edge = day ? since_on : since_on - light_s;
  const Band& to = day ? stage.vpd_day : stage.vpd_night;
  if (since_edge >= ramp) return to;
  const Band& from = day ? stage.vpd_night : stage.vpd_day;
  const double part = static_cast<double>(since_edge) / ramp;
  return {between(from.low, to.low, part), between(from.high, to.high, part)};
}

bool in_quiet_hours(const QuietHours& quiet, std::int32_t second_of_day) {
  if (!quiet.fitted) return false;
  if (quiet.from_s <= quiet.to_s)
    return second_of_day >= quiet.from_s && second_of_day < quiet.to_s;
  return second_of_day >= quiet.from_s || second_of_day < quiet.to_s;
}

void slots_of(const ProgrammePlan& programme, const StagePlan& stage, std::int32_t date,
              FloodSlots& out) {
  out.clear();
  if (stage.fallow) return;
  if (stage.floods.rule == SlotRule::by_demand)
    return forecast_by_demand(programme, stage, date, out);
  Offsets offsets;
  asked_offsets(stage, offsets);
  const CivilTime on = lights_on_of(stage, date);
  std::int32_t number = 0;
  for (const std::int32_t asked : offsets) {
    ++number;  // before the move: quiet hours never rename a flood
    const CivilTime start = later(on, moved_offset(programme.quiet, stage, asked));
    if (starts_with_another(out, start)) continue;
    out.push({{date, number}, start, later(on, asked)});
  }
  std::sort(out.begin(), out.end(),
            [](const FloodSlot& a, const FloodSlot& b) { return a.start < b.start; });
}

std::optional<FloodSlot> next_slot(const ProgrammePlan& programme, const StagePlan& stage,
                                   CivilTime now) {
  std::optional<FloodSlot> next;
  const std::int32_t today = date_of_photoperiod(stage, now);
  FloodSlots slots;
  // From the photoperiod before: quiet hours of nearly a day push a flood out of its own.
  for (std::int32_t date = today - 1; date <= today + kDaysAhead; ++date) {
    slots_of(programme, stage, date, slots);
    for (const FloodSlot& slot : slots)
      if (slot.start >= now && (!next || slot.start < next->start)) next = slot;
  }
  return next;
}

StageAdvice advise_stage(const ProgrammePlan& programme, int stage_index, std::int32_t entered_date,
                         std::int32_t date) {
  StageAdvice advice;
  advice.day = std::max(1, date - entered_date + 1);
  if (stage_index < 0) return advice;
  const auto index = static_cast<std::size_t>(stage_index);
  if (index >= programme.stages.size()) return advice;
  const int days = programme.stages[index].days;
  advice.due = days > 0 && advice.day > days && index + 1 < programme.stages.size();
  return advice;
}

}  // namespace neap
