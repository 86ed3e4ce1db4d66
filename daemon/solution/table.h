// Values between the rows of a printed table.
#pragma once

#include <algorithm>
#include <cstddef>
#include <span>

namespace neap::solution {

// By a straight line between evenly spaced rows; `at` lies within the table.
inline double between_rows(std::span<const double> rows, double first, double step, double at) {
  const double place = (at - first) / step;
  const auto row = std::min(static_cast<std::size_t>(place), rows.size() - 2);
  return rows[row] + (rows[row + 1] - rows[row]) * (place - static_cast<double>(row));
}

// By the parabola through the three nearest rows: for what curves too much for a straight line.
inline double on_parabola(std::span<const double> rows, double first, double step, double at) {
  const double place = (at - first) / step;
  const auto nearest = static_cast<std::size_t>(std::max(place + 0.5, 1.0));
  const std::size_t middle = std::min(nearest, rows.size() - 2);
  const double t = place - static_cast<double>(middle);
  const double before = rows[middle - 1];
  const double here = rows[middle];
  const double after = rows[middle + 1];
  return here + t * (after - before) / 2 + t * t * (after - 2 * here + before) / 2;
}

}  // namespace neap::solution
