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

// Mean of the quarter of an hour before; none where nothing was read in it.
std::optional<double> level_before(const std::vector<solution::Level>& levels, double at_h) {
  constexpr double kQuarter = 0.25;
  const auto by_time = [](const solution::Level& level, double at) { return level.at_h < at; };
  const auto last = std::lower_bound(levels.begin(), levels.end(), at_h, by_time);
  const auto first = std::lower_bound(levels.begin(), last, at_h - kQuarter, by_time);
  if (first == last) return std::nullopt;
  double sum = 0;
  for (auto level = first; level != last; ++level) sum += level->litres;
  return sum / static_cast<double>(last - first);
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
  // A flood makes good what was taken since the flood before, whoever worked in between.
  const std::vector<Asked> air = asked(reader, scale, from, to);
  const solution::Flood* before = nullptr;
  for (solution::Flood& flood : record.floods) {
    if (flood.worked) continue;
    if (before != nullptr) flood.demand = asked_between(air, before->began_h, flood.began_h);
    before = &flood;
  }
  return record;
}

FloodTimes flood_times(const std::vector<journal::CycleEntry>& cycles, const HourScale& scale,
                       const std::vector<solution::Level>& levels) {
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
    if (row.fill > Millis{0})
      times.fill.push_back({at, seconds_of(row.fill), level_before(levels, at)});
    if (row.drain > Millis{0}) times.drain.push_back({at, seconds_of(row.drain)});
  }
  return times;
}

std::vector<solution::Renewal> renewals(const std::vector<journal::MeasurementRow>& measured,
                                        const std::vector<journal::DiaryRow>& diary,
                                        const HourScale& scale) {
  std::vector<solution::Renewal> found;
  for (const journal::MeasurementRow& row : measured) {
    const HandInfo* hand = find_hand(row.quantity);
    const bool commissioned =
        hand != nullptr && (hand->hand == Hand::fill || hand->hand == Hand::pump_flow);
    const bool cleaned = row.note.starts_with(kCleanedNote);
    if (commissioned || cleaned) found.push_back({scale.hours(row.taken.tick), commissioned});
  }
  for (const journal::DiaryRow& row : diary)
    if (row.kind == "care" && row.subject == kCleanedPart)
      found.push_back({scale.hours(row.happened.tick), false});
  std::sort(found.begin(), found.end(),
            [](const solution::Renewal& a, const solution::Renewal& b) { return a.at_h < b.at_h; });
  return found;
}

}  // namespace neap::client
