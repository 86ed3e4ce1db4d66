#include "daemon/client/tally.h"

#include <algorithm>
#include <cmath>

#include "daemon/client/banded.h"
#include "daemon/core/instant.h"

namespace neap::client {
namespace {

constexpr double kHumidAbove = 85;  // % RH, as daemon/core/tally counts it
constexpr int kFanMove = 50;        // permille
constexpr int kMostRows = 2'000'000;

void tally_vpd(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to,
               DayTally& tally) {
  each_banded(reader, plan, from, to, [&](const BandedReading& here) {
    const double vpd = *here.row.value;
    const double beyond = here.beyond();
    (here.day ? tally.day_known : tally.night_known) += here.stood;
    if (beyond == 0) (here.day ? tally.day_in_band : tally.night_in_band) += here.stood;
    if (beyond < 0) tally.below += here.stood;
    if (beyond > 0) tally.above += here.stood;
    tally.kpa_h_out += std::abs(beyond) * static_cast<double>(here.stood.count()) / 3'600'000;
    tally.vpd_lowest = tally.any_vpd ? std::min(tally.vpd_lowest, vpd) : vpd;
    tally.vpd_highest = tally.any_vpd ? std::max(tally.vpd_highest, vpd) : vpd;
    tally.any_vpd = true;
  });
}

void tally_levels(const PerOutput<int>& level, Millis span, DayTally& tally) {
  if (level[Output::pump] > 0) tally.pump_on += span;
  if (level[Output::dehumidifier] > 0) tally.dehumidifier_on += span;
  if (level[Output::humidifier] > 0) tally.humidifier_on += span;
  tally.fan_hours +=
      level[Output::exhaust_fan] / 1000.0 * static_cast<double>(span.count()) / 3'600'000;
}

void tally_move(Output output, int before, int after, DayTally& tally) {
  if (output == Output::dehumidifier && before == 0 && after > 0) ++tally.dehumidifier_starts;
  if (output == Output::exhaust_fan && std::abs(after - before) >= kFanMove) ++tally.fan_moves;
}

void tally_outputs(journal::Reader& reader, std::int64_t from, std::int64_t to, DayTally& tally) {
  const std::vector<EventKind> kinds{EventKind::actuation, EventKind::boot};
  constexpr int kEnoughBefore = 500;  // every output has moved among these, or stands still
  PerOutput<int> level;
  for (const journal::EventRow& row : reader.events({std::nullopt, from}, kinds, kEnoughBefore)) {
    if (row.event.kind == EventKind::boot)
      level = {};
    else
      level[row.event.output] = row.event.level.value;
  }
  std::int64_t at = from;
  for (const journal::EventRow& row : reader.events({from + 1, to}, kinds, kMostRows)) {
    tally_levels(level, Millis{row.at.tick - at}, tally);
    at = row.at.tick;
    if (row.event.kind == EventKind::boot) {
      level = {};
      continue;
    }
    int& here = level[row.event.output];
    tally_move(row.event.output, here, row.event.level.value, tally);
    here = row.event.level.value;
  }
  tally_levels(level, Millis{to - at}, tally);
}

void tally_floods(journal::Reader& reader, std::int64_t from, std::int64_t to, DayTally& tally) {
  for (const journal::CycleEntry& cycle : reader.cycles({from, to - 1})) {
    const CycleRow& row = cycle.row;
    const bool slot = row.origin == FloodOrigin::slot;
    if (slot) ++tally.floods_planned;
    if (slot || row.origin == FloodOrigin::catch_up) ++tally.floods_started;
    if (row.outcome == FloodOutcome::complete) ++tally.floods_complete;
    if (!row.litres_known) continue;
    tally.litres_out += row.litres_out;
    tally.litres_back += row.litres_back;
  }
  tally.floods_planned +=
      static_cast<int>(reader.events({from, to - 1}, {EventKind::slot_skipped}, kMostRows).size());
}

}  // namespace

DayTally tally_of(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to) {
  DayTally tally;
  tally.began_tick = from;
  if (const journal::Stamp start = reader.stamp(from); start.unix_ms)
    tally.date = civil_of({*start.unix_ms, start.utc_offset_s, TimeQuality::synced}).date;
  tally_vpd(reader, plan, from, to, tally);
  each_held(reader, Point::canopy_humidity, from, to,
            [&](const journal::ReadingRow& row, Millis span) {
              if (*row.value > kHumidAbove) tally.humid += span;
            });
  tally_outputs(reader, from, to, tally);
  tally_floods(reader, from, to, tally);
  return tally;
}

Millis time_over(journal::Reader& reader, Point point, double limit, std::int64_t from,
                 std::int64_t to) {
  Millis over{};
  each_held(reader, point, from, to, [&](const journal::ReadingRow& row, Millis span) {
    if (*row.value > limit) over += span;
  });
  return over;
}

void add(DayTally& sum, const DayTally& part) {
  sum.day_known += part.day_known;
  sum.day_in_band += part.day_in_band;
  sum.night_known += part.night_known;
  sum.night_in_band += part.night_in_band;
  sum.below += part.below;
  sum.above += part.above;
  sum.kpa_h_out += part.kpa_h_out;
  sum.humid += part.humid;
  sum.floods_planned += part.floods_planned;
  sum.floods_started += part.floods_started;
  sum.floods_complete += part.floods_complete;
  sum.litres_out += part.litres_out;
  sum.litres_back += part.litres_back;
  sum.pump_on += part.pump_on;
  sum.dehumidifier_on += part.dehumidifier_on;
  sum.dehumidifier_starts += part.dehumidifier_starts;
  sum.humidifier_on += part.humidifier_on;
  sum.fan_hours += part.fan_hours;
  sum.fan_moves += part.fan_moves;
  if (!part.any_vpd) return;
  sum.vpd_lowest = sum.any_vpd ? std::min(sum.vpd_lowest, part.vpd_lowest) : part.vpd_lowest;
  sum.vpd_highest = sum.any_vpd ? std::max(sum.vpd_highest, part.vpd_highest) : part.vpd_highest;
  sum.any_vpd = true;
}

}  // namespace neap::client
