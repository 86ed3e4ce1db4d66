// Many readings made into few columns.
#include <algorithm>

#include "daemon/journal/file_reader.h"

namespace neap::journal {
namespace {

// `mean` is a sum of quanta until finish().
void add(Rolled& rolled, std::int64_t tick, double quanta) {
  rolled.lowest = rolled.count == 0 ? quanta : std::min(rolled.lowest, quanta);
  rolled.highest = rolled.count == 0 ? quanta : std::max(rolled.highest, quanta);
  rolled.mean += quanta;
  rolled.last = quanta;
  rolled.last_tick = tick;
  ++rolled.count;
}

void finish(Rolled& rolled, double quanta_per_unit) {
  if (rolled.count == 0) return;
  rolled.mean /= static_cast<double>(rolled.count);
  for (double* figure : {&rolled.lowest, &rolled.mean, &rolled.highest, &rolled.last})
    *figure /= quanta_per_unit;
}

std::string numbers_of(const std::vector<Point>& points) {
  std::string list;
  for (const Point point : points)
    list += (list.empty() ? "" : ", ") + std::to_string(static_cast<int>(point));
  return list;
}

}  // namespace

std::vector<std::vector<Rolled>> FileReader::roll_up(const std::vector<Point>& points,
                                                     const std::vector<std::int64_t>& edges) {
  begin();
  const std::size_t columns = edges.empty() ? 0 : edges.size() - 1;
  std::vector<std::vector<Rolled>> found(points.size(), std::vector<Rolled>(columns));
  if (columns == 0) return found;
  std::size_t column = 0;  // rows come in the order of their ticks
  each(
      "SELECT k, v, q FROM reading WHERE k BETWEEN ?1 AND ?2 AND k & 255 IN (" +
          numbers_of(points) + ") ORDER BY k",
      [&](const Statement& row) {
        const std::int64_t tick = tick_of_key(row.integer(0));
        while (column + 1 < columns && tick >= edges[column + 1]) ++column;
        const bool usable = !row.is_null(1) && quality_of(row.integer(2)) != Quality::bad;
        for (std::size_t i = 0; i < points.size(); ++i) {
          if (points[i] != point_of_key(row.integer(0))) continue;
          Rolled& rolled = found[i][column];
          if (usable)
            add(rolled, tick, row.real(1));
          else
            ++rolled.missing;
          rolled.ended_missing = !usable;
        }
      },
      first_key(edges.front()), first_key(edges.back()) - 1);
  for (std::size_t i = 0; i < points.size(); ++i)
    for (Rolled& rolled : found[i]) finish(rolled, per_unit(points[i]));
  return found;
}

}  // namespace neap::journal
