#include "daemon/client/report.h"

#include <algorithm>
#include <limits>

#include "daemon/client/records_json.h"
#include "daemon/client/tally.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr int kMostRows = 2'000'000;
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

void count_readings(journal::Reader& reader, Report& report) {
  for (std::int64_t at = report.from.tick; at < report.to.tick; at += kSummaryStep) {
    const std::int64_t end = std::min(at + kSummaryStep - 1, report.to.tick);
    for (const journal::PointSummary& row : reader.summaries({at, end})) {
      if (info(row.point).kind == PointKind::derived) continue;
      report.readings += row.count;
      report.missing += row.missing;
      if (row.point == Point::reservoir_level && row.latest) report.level_last_l = row.latest;
    }
    if (report.trouble.empty()) report.trouble = reader.trouble();
  }
}

std::optional<double> first_level(journal::Reader& reader, std::int64_t from) {
  constexpr std::int64_t kLook = Millis{minutes{10}}.count();
  for (const journal::ReadingRow& row :
       reader.readings(Point::reservoir_level, {from, from + kLook}, 0, kMostRows))
    if (row.value && row.quality != Quality::bad) return row.value;
  return std::nullopt;
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
  report.water = water_findings(water_view(reader, plan, to), from, to);
  return report;
}

json report_json(const Report& report, const words::Style& style) {
  json out = {{"name", report.name},
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
