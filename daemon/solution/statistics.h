// Small sums that several parts need.
#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

namespace neap::solution {

// Of at least one value.
inline double median(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  if (values.size() % 2 == 1) return *middle;
  return (*std::max_element(values.begin(), middle) + *middle) / 2;
}

// A one-sided cumulative sum: grows while what comes in is higher than it should be.
struct Cusum {
  double allowance = 0.4;  // in standard deviations: half of the shift that it is quickest for
  double sum = 0;
  // One value counts for at most this many deviations: no single one can flag.
  double most = 4;
  void take(double z) { sum = std::max(0.0, sum + std::min(z, most) - allowance); }
};

}  // namespace neap::solution
