#include "daemon/client/report.h"

#include <algorithm>
#include <limits>

#include "daemon/client/records_json.h"
#include "daemon/client/tally.h"
#include "daemon/settings/settings.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr int kMostRows = 2'000'000;
constexpr std::size_t kMostExcursions = 5;
constexpr std::int64_t kSummaryStep = Millis{hours{24}}.count();  // each inside its time-box

// Closed photoperiods that lie inside the span, and what is counted afresh around them.
std::vector<DayTally> days_of(journal::Reader& reader, const Plan& plan, std::int64_t from,
                              std::int64_t to) {
  std::vector<DayTally> days;
  std::int64_t at = from;
  const auto count_until = [&](std::int64_t until) {
    if (until > at) days.push_back(tally_of(reader, plan, at, until));
    at = until;
  };
  for (const journal::EventRow& row :
       reader.events({from, to}, {EventKind::day_closed}, kMostRows)) {
    const DayTally& day = row.event.day;
    if (day.began_tick < at) continue;
    count_until(day.began_tick);
    days.push_back(day);
    at = row.at.tick;
  }
  count_until(to);
  return days;
}

// Means weigh by their readings.
void merge(std::vector<journal::PointSummary>& all, const journal::PointSummary& part) {
  const auto same = std::find_if(all.begin(), all.end(), [&](const journal::PointSummary& row) {
    return row.point == part.point;
  });
  if (same == all.end()) {
    all.push_back(part);
    return;
  }
  journal::PointSummary& sum = *same;
  if (part.count > 0) {
    const double of_sum = sum.mean.value_or(0) * static_cast<double>(sum.count);
    const double of_part = part.mean.value_or(0) * static_cast<double>(part.count);
    sum.mean = (of_sum + of_part) / static_cast<double>(sum.count + part.count);
    sum.lowest = std::min(sum.lowest.value_or(*part.lowest), *part.lowest);
    sum.highest = std::max(sum.highest.value_or(*part.highest), *part.highest);
    sum.latest = part.latest;
    sum.latest_at = part.latest_at;
  }
  sum.count += part.count;
  sum.missing += part.missing;
}

void count_readings(journal::Reader& reader, Report& report) {
  for (std::int64_t at = report.from.tick; at < report.to.tick; at += kSummaryStep) {
    const std::int64_t end = std::min(at + kSummaryStep - 1, report.to.tick);
    for (const journal::PointSummary& row : reader.summaries({at, end})) {
      merge(report.points, row);
      if (info(row.point).kind == PointKind::derived) continue;
      report.readings += row.count;
      report.missing += row.missing;
      if (row.point == Point::reservoir_level && row.latest) report.level_last_l = row.latest;
    }
    if (report.trouble.empty()) report.trouble = reader.trouble();
  }
}

std::vector<SettingsChange> settings_changes(journal::Reader& reader, std::int64_t from,
                                             std::int64_t to) {
  std::vector<SettingsChange> changes;
  settings::LoadResult before;
  for (const auto& revision : reader.settings_texts(from, to)) {
    settings::LoadResult after = settings::load_text(revision.text);
    if (revision.from > from && before.loaded && after.loaded) {
      SettingsChange change{reader.stamp(revision.from),
                            settings::difference(*before.loaded, *after.loaded)};
      if (!change.lines.empty()) changes.push_back(std::move(change));
    } else if (revision.from > from && !(before.loaded && after.loaded)) {
      changes.push_back({reader.stamp(revision.from), {"this version cannot read one of them"}});
    }
    before = std::move(after);
  }
  return changes;
}

std::optional<double> first_level(journal::Reader& reader, std::int64_t from) {
  constexpr std::int64_t kLook = Millis{minutes{10}}.count();
  for (const journal::ReadingRow& row :
       reader.readings(Point::reservoir_level, {from, from + kLook}, 0, kMostRows))
    if (row.value && row.quality != Quality::bad) return row.value;
  return std::nullopt;
}

json excursion_json(const Excursion& one) {
  return {{"from", stamp_json(one.from)},
          {"to", stamp_json(one.to)},
          {"side", one.below ? "below" : "above"},
          {"out_s", as_seconds(one.out)},
          {"furthest_kpa", one.furthest_kpa},
          {"edge_kpa", one.edge_kpa},
          {"kpa_h", one.kpa_h},
          {"with", one.with}};
}

template <class Rows, class Make>
json list_json(const Rows& rows, Make make) {
  json list = json::array();
  for (const auto& row : rows) list.push_back(make(row));
  return list;
}

}  // namespace

Report make_report(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to) {
  Report report;
  report.name = plan.name;
  report.from = reader.stamp(from);
  report.to = reader.stamp(to);
  report.days = days_of(reader, plan, from, to);
  if (!report.days.empty()) report.total.date = report.days.front().date;
  report.total.began_tick = from;
  for (const DayTally& day : report.days) add(report.total, day);
  report.cycles = reader.cycles({from, to});
  report.alarms = reader.alarms({from, to});
  report.latches =
      reader.events({from, to}, {EventKind::latch_set, EventKind::latch_reset}, kMostRows);
  report.level_first_l = first_level(reader, from);
  count_readings(reader, report);
  report.excursions = worst_excursions(reader, plan, from, to, kMostExcursions);
  for (Excursion& one : report.excursions) explain(reader, plan, one);
  report.measurements = reader.measurements({from, to});
  report.settings = settings_changes(reader, from, to);
  report.water = water_findings(water_view(reader, plan, to), from, to);
  return report;
}

json report_json(const Report& report, const words::Style& style) {
  json out = {
      {"name", report.name},
      {"from", stamp_json(report.from)},
      {"to", stamp_json(report.to)},
      {"total", tally_json(report.total)},
      {"days", list_json(report.days, tally_json)},
      {"cycles", list_json(report.cycles, cycle_json)},
      {"alarms",
       list_json(report.alarms, [&](const auto& span) { return alarm_json(span, style); })},
      {"latches",
       list_json(report.latches, [&](const auto& row) { return event_json(row, style); })},
      {"water", list_json(report.water,
                          [](const WaterFinding& one) {
                            return json{{"about", one.title}, {"text", one.text}};
                          })},
      {"points", list_json(report.points, summary_json)},
      {"excursions", list_json(report.excursions, excursion_json)},
      {"measurements", list_json(report.measurements, measurement_json)},
      {"settings", list_json(report.settings,
                             [](const SettingsChange& one) {
                               return json{{"at", stamp_json(one.at)}, {"changes", one.lines}};
                             })},
      {"energy", list_json(report.energy,
                           [](const EnergyOf& one) {
                             return json{{"output", info(one.output).name}, {"kwh", one.kwh}};
                           })},
      {"due", report.due},
      {"readings", report.readings},
      {"readings_missing", report.missing},
      {"level_first_l", nullptr},
      {"level_last_l", nullptr},
      {"trouble", report.trouble}};
  if (report.level_first_l) out["level_first_l"] = *report.level_first_l;
  if (report.level_last_l) out["level_last_l"] = *report.level_last_l;
  return out;
}

}  // namespace neap::client
