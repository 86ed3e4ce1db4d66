#include "daemon/client/grow.h"

#include <algorithm>
#include <array>

#include "daemon/client/ahead.h"
#include "daemon/client/hand_record.h"
#include "daemon/client/tally.h"

namespace neap::client {
namespace {

constexpr int kMostRows = 2'000'000;
constexpr std::int64_t kHalfDayMs = Millis{hours{12}}.count();
constexpr double kDayMs = 86'400'000;
constexpr double kLeastDriftDays = 0.5;
constexpr double kLevelNoiseL = 0.5;  // a level that seems to rise overnight (common practice)

struct StageSpan {
  std::string name;
  std::int64_t from, to;  // ticks
};

std::string stage_name(const journal::EventRow& row, const Plan& plan) {
  const auto index = static_cast<std::size_t>(row.event.number);
  if (row.name.empty() && index < plan.programme.stages.size())
    return plan.programme.stages[index].name;
  return row.name;  // as it was called then
}

// The stages really entered between the two ticks, the first one from before.
std::vector<StageSpan> stage_spans(journal::Reader& reader, const Plan& plan, std::int64_t from,
                                   std::int64_t to) {
  std::vector<StageSpan> spans;
  const auto before = reader.events({std::nullopt, from}, {EventKind::stage}, 1);
  if (!before.empty()) {
    spans.push_back({stage_name(before.front(), plan), from, to});
  } else {
    const journal::Stamp start = reader.stamp(from);
    const std::int32_t date =
        start.unix_ms ? civil_of({*start.unix_ms, start.utc_offset_s, TimeQuality::synced}).date
                      : plan.programme.start_date;
    const auto index = static_cast<std::size_t>(stage_by_days(plan.programme, date).index);
    spans.push_back({plan.programme.stages[index].name, from, to});
  }
  for (const journal::EventRow& row :
       reader.events({from + 1, to - 1}, {EventKind::stage}, kMostRows)) {
    std::string name = stage_name(row, plan);
    if (name == spans.back().name) continue;  // a restart tells the stage again
    spans.back().to = row.at.tick;
    spans.push_back({std::move(name), row.at.tick, to});
  }
  return spans;
}

bool poured(const std::string& quantity) {
  constexpr std::array kPoured{Hand::ph_down, Hand::ph_up, Hand::stock_a,
                               Hand::stock_b, Hand::topup, Hand::change};
  return std::any_of(kPoured.begin(), kPoured.end(),
                     [&](Hand hand) { return info(hand).name == quantity; });
}

HandRange range_of(const std::vector<journal::MeasurementRow>& rows, Hand hand, std::int64_t from,
                   std::int64_t to) {
  HandRange range;
  double sum = 0;
  double change = 0;
  double over_days = 0;
  const journal::MeasurementRow* before = nullptr;
  for (const journal::MeasurementRow& row : rows) {
    if (row.taken.tick < from || row.taken.tick >= to) continue;
    if (poured(row.quantity)) before = nullptr;
    if (row.quantity != info(hand).name) continue;
    range.lowest = range.count == 0 ? row.value : std::min(range.lowest, row.value);
    range.highest = range.count == 0 ? row.value : std::max(range.highest, row.value);
    sum += row.value;
    ++range.count;
    if (before != nullptr) {
      change += row.value - before->value;
      over_days += static_cast<double>(row.taken.tick - before->taken.tick) / kDayMs;
    }
    before = &row;
  }
  if (range.count > 0) range.mean = sum / range.count;
  if (over_days >= kLeastDriftDays) range.drift_per_day = change / over_days;
  return range;
}

// What the whole grow's journal has, read once and counted for each part.
struct Material {
  std::vector<journal::DayEntry> days;
  std::vector<journal::DaySummary> summaries;
  std::vector<journal::CycleEntry> cycles;
  std::vector<journal::AlarmSpan> alarms;
  std::vector<journal::MeasurementRow> measurements;
};

void count_water(const Material& material, const journal::DaySummary& day, PartFigures& part) {
  if (!day.level_first_l || !day.level_last_l) return;
  double used = *day.level_first_l - *day.level_last_l;
  for (const journal::MeasurementRow& row : material.measurements) {
    if (row.taken.tick < day.began || row.taken.tick >= day.began + 2 * kHalfDayMs) continue;
    if (row.quantity == info(Hand::change).name) return;  // what it took is not known
    if (row.quantity == info(Hand::topup).name) used += row.value;
  }
  if (used < -kLevelNoiseL) return;  // something was poured in that nobody told of
  part.water_used_l += used;
  ++part.water_days;
}

// The mean of a point's daily means, each weighed by its readings.
std::optional<double> mean_of(const std::vector<journal::DaySummary>& days, Point point,
                              std::int64_t from, std::int64_t to) {
  double sum = 0;
  double weight = 0;
  for (const journal::DaySummary& day : days) {
    if (day.began + kHalfDayMs < from || day.began + kHalfDayMs >= to) continue;
    for (const auto& row : day.points) {
      if (row.point != point || !row.mean) continue;
      sum += *row.mean * static_cast<double>(row.usable);
      weight += static_cast<double>(row.usable);
    }
  }
  if (weight == 0) return std::nullopt;
  return sum / weight;
}

PartFigures part_of(const Material& material, const StageSpan& span) {
  PartFigures part;
  part.stage = span.name;
  part.days = static_cast<double>(span.to - span.from) / kDayMs;
  const auto inside = [&](std::int64_t tick) { return tick >= span.from && tick < span.to; };
  for (const journal::DayEntry& day : material.days) {
    if (!inside(day.began.tick + kHalfDayMs)) continue;
    add(part.tally, day.tally);
    ++part.photoperiods;
  }
  for (const journal::CycleEntry& cycle : material.cycles)
    if (inside(cycle.started.tick)) ++part.floods[cycle.row.outcome];
  for (const journal::AlarmSpan& alarm : material.alarms)
    if (inside(alarm.raised.tick)) ++part.alarms;
  for (const journal::DaySummary& day : material.summaries)
    if (inside(day.began + kHalfDayMs)) count_water(material, day, part);
  part.ph = range_of(material.measurements, Hand::ph, span.from, span.to);
  part.ec = range_of(material.measurements, Hand::ec, span.from, span.to);
  part.canopy_mean_c = mean_of(material.summaries, Point::canopy_temperature, span.from, span.to);
  part.humidity_mean_pct = mean_of(material.summaries, Point::canopy_humidity, span.from, span.to);
  return part;
}

std::optional<std::int64_t> number_of(const journal::DiaryRow& row) {
  if (row.number == 0) return std::nullopt;  // it waits in the spool
  return row.number;
}

}  // namespace

double Grow::harvest_g() const {
  double sum = 0;
  for (const journal::DiaryRow& row : harvests) sum += row.figure.value_or(0);
  return sum;
}

std::optional<double> Grow::harvest_g_per_plant() const {
  if (!plants || harvests.empty()) return std::nullopt;
  return harvest_g() / *plants;
}

std::vector<Grow> grows_of(const std::vector<journal::DiaryRow>& diary) {
  std::vector<Grow> grows;
  for (const journal::DiaryRow& row : diary) {
    if (row.kind == "grow_started") {
      if (!grows.empty() && !grows.back().to) grows.back().to = row.happened;
      Grow grow;
      grow.name = row.subject;
      grow.crop = row.says;
      grow.plants = row.figure;
      grow.from = row.happened;
      grow.start_number = number_of(row);
      grows.push_back(std::move(grow));
      continue;
    }
    const auto named = std::find_if(grows.rbegin(), grows.rend(),
                                    [&](const Grow& grow) { return grow.name == row.subject; });
    if (named == grows.rend()) continue;  // its start was withdrawn
    if (row.kind == "grow_note") named->notes.push_back(row);
    if (row.kind == "harvest") named->harvests.push_back(row);
    if (row.kind == "grow_ended") {
      named->to = row.happened;
      named->end_words = row.says;
      named->end_number = number_of(row);
    }
  }
  return grows;
}

const Grow* grow_under_way(const std::vector<Grow>& grows) {
  return grows.empty() || grows.back().to ? nullptr : &grows.back();
}

GrowFigures grow_figures(journal::Reader& reader, const Plan& plan, const Grow& grow) {
  GrowFigures figures;
  figures.grow = grow;
  const std::int64_t from = grow.from.tick;
  const std::int64_t newest = reader.last_tick().value_or(from);
  const std::int64_t to = std::max(from, grow.to ? grow.to->tick : newest);
  const journal::Span around{from - 2 * kHalfDayMs, to};
  Material material;
  const auto heard = [&](auto rows) {
    if (figures.trouble.empty()) figures.trouble = reader.trouble();
    return rows;
  };
  material.days = heard(reader.days(around));
  material.summaries = heard(reader.day_summaries(around));
  material.cycles = heard(reader.cycles({from, to}));
  material.alarms = heard(reader.alarms({from, to}));
  material.measurements = pours_first(heard(reader.measurements(around)));
  figures.whole = part_of(material, {"", from, to});
  for (const StageSpan& span : stage_spans(reader, plan, from, to))
    figures.stages.push_back(part_of(material, span));
  return figures;
}

}  // namespace neap::client
