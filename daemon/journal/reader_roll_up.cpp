// Readings as they are, and many made into few.
#include <algorithm>

#include "daemon/journal/file_reader.h"

namespace neap::journal {
namespace {

// Adds one hour of a point to columns of time: `column(tick)` is the number of one, `at(column)`
// its figures. What was deleted of an hour that is in two columns, or partly in none, goes whole
// where its middle is.
template <class Column, class At>
void add_hour(History& hour, std::int64_t from, std::int64_t to, Column&& column, At&& at) {
  const HourFigures* figures = hour.figures();
  if (figures != nullptr && figures->first_tick >= from && figures->last_tick <= to &&
      column(figures->first_tick) == column(figures->last_tick)) {
    at(column(figures->first_tick)).add(*figures);
    return;
  }
  for (const PackedReading& reading : hour.readings())
    at(column(tick_of_key(reading.k))).add(reading);
  if (figures == nullptr || !hour.gone()) return;
  const std::int64_t middle = (figures->first_tick + figures->last_tick) / 2;
  if (middle >= from && middle <= to) at(column(middle)).add(*figures);
}

std::int64_t number_of(Point point) { return static_cast<std::int64_t>(point); }

double mean_of(const HourFigures& figures) {
  return figures.sum / static_cast<double>(figures.usable);
}

Rolled rolled_of(const HourFigures& figures, Point point) {
  Rolled made;
  made.count = figures.usable;
  made.missing = figures.missing;
  made.ended_missing = figures.ended_missing;
  if (figures.usable == 0) return made;
  made.lowest = unpack(point, figures.lowest);
  made.mean = mean_of(figures) / per_unit(point);
  made.highest = unpack(point, figures.highest);
  made.last = unpack(point, figures.newest);
  made.last_tick = figures.newest_tick;
  return made;
}

}  // namespace

ReadingRow FileReader::row_of(Point point, const PackedReading& reading) const {
  ReadingRow made{clock_.stamp(tick_of_key(reading.k)), point, std::nullopt, quality_of(reading.q),
                  fault_of(reading.q)};
  if (reading.v) made.value = unpack(point, *reading.v);
  return made;
}

// An hour of all points at a time, which is what order by time needs.
void FileReader::each_reading(const Span& span,
                              const std::function<void(const ReadingRow&)>& take) {
  begin();
  std::vector<PackedReading> hour_of_all;
  const auto give = [&] {
    std::ranges::sort(hour_of_all, {}, &PackedReading::k);
    for (const PackedReading& one : hour_of_all) take(row_of(point_of_key(one.k), one));
    hour_of_all.clear();
  };
  through({}, first_of(span), last_of(span), History::Order::oldest_first, [&](History& hour) {
    const auto rows = hour.readings();
    if (!rows.empty() && !hour_of_all.empty() &&
        tick_of_key(rows.front().k) / kHourMs != tick_of_key(hour_of_all.front().k) / kHourMs)
      give();
    hour_of_all.insert(hour_of_all.end(), rows.begin(), rows.end());
    return true;
  });
  give();
}

std::vector<ReadingRow> FileReader::readings(Point point, const Span& span, std::int64_t bucket_ms,
                                             int limit) {
  begin();
  return bucket_ms > 0 ? means(point, span, bucket_ms, limit) : raw(point, span, limit);
}

std::vector<ReadingRow> FileReader::raw(Point point, const Span& span, int limit) {
  std::vector<ReadingRow> found;
  const auto most = static_cast<std::size_t>(std::max(limit, 0));
  through({number_of(point)}, first_of(span), last_of(span), History::Order::newest_first,
          [&](History& hour) {
            const auto rows = hour.readings();
            for (auto row = rows.rbegin(); row != rows.rend() && found.size() < most; ++row) {
              found.push_back(row_of(point, *row));
            }
            return found.size() < most;
          });
  std::ranges::reverse(found);
  return found;
}

// A bucket is as good as the worst of the readings that its mean was made of; one without any says
// why with the highest fault seen.
std::vector<ReadingRow> FileReader::means(Point point, const Span& span, std::int64_t bucket_ms,
                                          int limit) {
  struct Bucket {
    std::int64_t number = 0;
    HourFigures figures;
  };
  std::vector<Bucket> buckets;
  const auto column = [bucket_ms](std::int64_t tick) { return tick / bucket_ms; };
  const auto at = [&](std::int64_t number) -> HourFigures& {
    if (buckets.empty() || buckets.back().number != number) buckets.push_back({number, {}});
    return buckets.back().figures;
  };
  through({number_of(point)}, first_of(span), last_of(span), History::Order::oldest_first,
          [&](History& hour) {
            add_hour(hour, first_of(span), last_of(span), column, at);
            return true;
          });
  const auto most = static_cast<std::size_t>(std::max(limit, 0));
  if (buckets.size() > most)
    buckets.erase(buckets.begin(), buckets.end() - static_cast<std::ptrdiff_t>(most));
  std::vector<ReadingRow> found;
  for (const Bucket& bucket : buckets) {
    ReadingRow made{clock_.stamp(bucket.number * bucket_ms), point, std::nullopt, Quality::bad,
                    bucket.figures.fault};
    if (bucket.figures.usable > 0) {
      made.value = mean_of(bucket.figures) / per_unit(point);
      made.quality = bucket.figures.worst;
      made.fault = Fault::none;
    }
    found.push_back(made);
  }
  return found;
}

std::vector<PointSummary> FileReader::summaries(const Span& span) {
  begin();
  std::array<HourFigures, kPointsInKey> sums{};
  through({}, first_of(span), last_of(span), History::Order::oldest_first, [&](History& hour) {
    add_hour(
        hour, first_of(span), last_of(span), [](std::int64_t) { return 0; },
        [&](int) -> HourFigures& { return sums[static_cast<std::size_t>(hour.point())]; });
    return true;
  });
  std::vector<PointSummary> found;
  for (std::size_t i = 0; i < sums.size(); ++i) {
    if (!sums[i].any()) continue;
    PointSummary made;
    made.point = static_cast<Point>(i);
    const Rolled rolled = rolled_of(sums[i], made.point);
    made.count = rolled.count;
    made.missing = rolled.missing;
    if (rolled.count > 0) {
      made.lowest = rolled.lowest;
      made.mean = rolled.mean;
      made.highest = rolled.highest;
      made.latest = rolled.last;
      made.latest_at = clock_.stamp(rolled.last_tick);
    }
    found.push_back(made);
  }
  return found;
}

std::vector<std::vector<Rolled>> FileReader::roll_up(const std::vector<Point>& points,
                                                     const std::vector<std::int64_t>& edges) {
  begin();
  const std::size_t columns = edges.empty() ? 0 : edges.size() - 1;
  std::vector<std::vector<Rolled>> found(points.size(), std::vector<Rolled>(columns));
  if (columns == 0 || points.empty()) return found;
  std::vector<std::int64_t> numbers;
  for (const Point point : points) numbers.push_back(number_of(point));
  std::array<std::vector<HourFigures>, kPointsInKey> sums;
  for (const std::int64_t number : numbers) sums[static_cast<std::size_t>(number)].resize(columns);
  const std::int64_t from = edges.front(), to = edges.back() - 1;
  const auto column = [&](std::int64_t tick) {
    return std::upper_bound(edges.begin(), edges.end(), tick) - edges.begin() - 1;
  };
  through(numbers, from, to, History::Order::oldest_first, [&](History& hour) {
    auto& figures = sums[static_cast<std::size_t>(hour.point())];
    add_hour(hour, from, to, column, [&](std::ptrdiff_t number) -> HourFigures& {
      return figures[static_cast<std::size_t>(number)];
    });
    return true;
  });
  for (std::size_t i = 0; i < points.size(); ++i)
    for (std::size_t c = 0; c < columns; ++c)
      found[i][c] = rolled_of(sums[static_cast<std::size_t>(numbers[i])][c], points[i]);
  return found;
}

}  // namespace neap::journal
