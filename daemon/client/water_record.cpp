#include "daemon/client/water_record.h"

#include <algorithm>
#include <cstdlib>
#include <optional>

#include "daemon/solution/statistics.h"

namespace neap::client {
namespace {

constexpr int kMostRows = 2'000'000;
constexpr std::int64_t kDay = Millis{hours{24}}.count();  // each inside the reader's time-box
constexpr std::int64_t kMinute = Millis{minutes{1}}.count();
constexpr std::int64_t kAirStep = Millis{minutes{10}}.count();
// In the dark most stomata are shut: a kPa asks a quarter of what it asks in the light (from the
// 140 and 38 g/h of a tent's vapour balance; no source for flood tables).
constexpr double kDarkPart = 0.27;
// Floods of one depth differ by what the medium holds.
constexpr double kAlike = 0.15;
constexpr std::size_t kNewest = 12;

// Calls `take(row)` for each mean of `step` with a value.
template <class Take>
void each_mean(journal::Reader& reader, Point point, std::int64_t from, std::int64_t to,
               std::int64_t step, Take&& take) {
  for (std::int64_t at = from; at < to; at += kDay)
    for (const auto& row :
         reader.readings(point, {at, std::min(at + kDay, to) - 1}, step, kMostRows))
      if (row.value && row.quality != Quality::bad) take(row);
}

// Whether the light was on, from its actuations.
class Lit {
 public:
  Lit(journal::Reader& reader, std::int64_t from, std::int64_t to)
      : changes_(reader.events({from - kDay, to}, {EventKind::actuation}, kMostRows)) {
    std::erase_if(changes_, [](const auto& row) { return row.event.output != Output::light; });
  }
  bool at(std::int64_t tick) {  // ascending
    while (next_ < changes_.size() && changes_[next_].at.tick <= tick)
      lit_ = changes_[next_++].event.level != kStopped;
    return lit_;
  }

 private:
  std::vector<journal::EventRow> changes_;
  std::size_t next_ = 0;
  bool lit_ = true;
};

// What the air asked, up to each moment: kPa h of light, of the dark a part.
struct Asked {
  double at_h;
  double sum;
};
std::vector<Asked> asked(journal::Reader& reader, const HourScale& scale, std::int64_t from,
                         std::int64_t to) {
  std::vector<Asked> all;
  Lit lit(reader, from, to);
  double sum = 0;
  each_mean(reader, Point::canopy_vpd, from, to, kAirStep, [&](const journal::ReadingRow& row) {
    const double kpa_h = *row.value * static_cast<double>(kAirStep) / 3'600'000;
    sum += kpa_h * (lit.at(row.at.tick) ? 1 : kDarkPart);
    all.push_back({scale.hours(row.at.tick), sum});
  });
  return all;
}

// Between two moments; none where the air was not read at least nine tenths of the time.
std::optional<double> asked_between(const std::vector<Asked>& all, double from_h, double to_h) {
  const auto by_time = [](const Asked& a, double at) { return a.at_h < at; };
  const auto first = std::lower_bound(all.begin(), all.end(), from_h, by_time);
  const auto last = std::lower_bound(first, all.end(), to_h, by_time);
  const double steps = (to_h - from_h) * 3'600'000 / static_cast<double>(kAirStep);
  if (last - first < 2 || static_cast<double>(last - first) < 0.9 * steps) return std::nullopt;
  return (last - 1)->sum - first->sum;
}

void add_floods(journal::Reader& reader, const HourScale& scale, std::int64_t from, std::int64_t to,
                solution::WaterRecord& record) {
  for (const journal::CycleEntry& entry : reader.cycles({from, to})) {
    const CycleRow& row = entry.row;
    const Millis took = row.fill + row.soak + row.drain;
    record.floods.push_back({scale.hours(entry.started.tick),
                             scale.hours(entry.started.tick + took.count()), std::nullopt, false});
  }
  bool working = false;
  std::int64_t since = from;
  for (const auto& row : reader.events({from, to}, {EventKind::service}, kMostRows)) {
    if (working)
      record.floods.push_back({scale.hours(since), scale.hours(row.at.tick), std::nullopt, true});
    working = row.event.number == 1;
    since = row.at.tick;
  }
  std::sort(record.floods.begin(), record.floods.end(),
            [](const auto& a, const auto& b) { return a.began_h < b.began_h; });
}

double seconds_of(Millis time) { return static_cast<double>(time.count()) / 1000; }

}  // namespace

HourScale hour_scale(journal::Reader& reader, std::int64_t from) {
  const journal::Stamp stamp = reader.stamp(from);
  if (!stamp.unix_ms) return {from};
  const std::int64_t local = *stamp.unix_ms + std::int64_t{stamp.utc_offset_s} * 1000;
  return {from - (local % kDay + kDay) % kDay};
}

solution::WaterRecord water_record(journal::Reader& reader, const HourScale& scale,
                                   std::int64_t from, std::int64_t to) {
  solution::WaterRecord record;
  each_mean(reader, Point::reservoir_level, from, to, kMinute, [&](const auto& row) {
    record.levels.push_back({scale.hours(row.at.tick), *row.value});
  });
  add_floods(reader, scale, from, to, record);
  const std::vector<Asked> air = asked(reader, scale, from, to);
  for (std::size_t i = 1; i < record.floods.size(); ++i)
    record.floods[i].demand =
        asked_between(air, record.floods[i - 1].began_h, record.floods[i].began_h);
  return record;
}

FloodTimes flood_times(const std::vector<journal::CycleEntry>& cycles, const HourScale& scale) {
  std::vector<const journal::CycleEntry*> complete;
  std::vector<double> newest;
  for (const journal::CycleEntry& entry : cycles)
    if (entry.row.outcome == FloodOutcome::complete) complete.push_back(&entry);
  for (auto it = complete.rbegin(); it != complete.rend() && newest.size() < kNewest; ++it)
    if ((*it)->row.litres_known) newest.push_back((*it)->row.litres_out);
  std::optional<double> depth;
  if (!newest.empty()) depth = solution::median(newest);
  FloodTimes times;
  for (const journal::CycleEntry* entry : complete) {
    const CycleRow& row = entry->row;
    if (depth && row.litres_known && std::abs(row.litres_out / *depth - 1) > kAlike) continue;
    const double at = scale.hours(entry->started.tick);
    if (row.fill > Millis{0}) times.fill.push_back({at, seconds_of(row.fill)});
    if (row.drain > Millis{0}) times.drain.push_back({at, seconds_of(row.drain)});
  }
  return times;
}

}  // namespace neap::client
