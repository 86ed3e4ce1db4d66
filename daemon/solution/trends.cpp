#include "daemon/solution/trends.h"

#include <algorithm>
#include <cmath>

#include "daemon/solution/statistics.h"

namespace neap::solution {
namespace {

constexpr double kFade = 0.25;
// Deviations of the faded average that are flagged. The commissioned time is itself a mean, which
// the bound carries (bound_of).
constexpr double kBound = 3.3;
constexpr double kClear = 0.5;  // of the bound: below it the matter is over
constexpr std::size_t kScatterFloods = 120;
constexpr double kScatterLeast = 0.005;  // times are whole seconds of minutes
constexpr std::size_t kSlopeFloods = 40;
constexpr double kSure = 3;  // a slope of so many of its deviations is one

// Mean of the middle half: one airlock among the first floods commissions nothing.
double middle_mean(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t quarter = values.size() / 4;
  double sum = 0;
  for (std::size_t i = quarter; i < values.size() - quarter; ++i) sum += values[i];
  return sum / static_cast<double>(values.size() - 2 * quarter);
}

// Standard deviation of the newest floods up to `until`, from neighbours: a ramp hides nothing in
// it.
double scatter_of(const std::vector<double>& logs, std::size_t until) {
  std::vector<double> steps;
  const std::size_t first = until > kScatterFloods ? until - kScatterFloods : 0;
  for (std::size_t i = first + 1; i < until; ++i) steps.push_back(std::abs(logs[i] - logs[i - 1]));
  // The median of |x - y| of two normal values is 0.9539 deviations of one.
  return std::max(median(steps) / 0.9539, kScatterLeast);
}

double bound_of(double scatter) {
  const double average = kFade / (2 - kFade);
  return kBound * scatter * std::sqrt(average + 1.0 / kCommissioned);
}

struct Slope {
  double per_h = 0;
  double deviation = 0;
};
std::optional<Slope> slope_of(const std::vector<Timed>& times, const std::vector<double>& logs) {
  const std::size_t n = std::min(kSlopeFloods, times.size() - kCommissioned);
  if (n < 8) return std::nullopt;
  const std::size_t first = times.size() - n;
  const auto count = static_cast<double>(n);
  double at = 0, log = 0;
  for (std::size_t i = first; i < times.size(); ++i)
    at += times[i].at_h / count, log += logs[i] / count;
  double across = 0, square = 0, all = 0;
  for (std::size_t i = first; i < times.size(); ++i) {
    across += (times[i].at_h - at) * (logs[i] - log);
    square += (times[i].at_h - at) * (times[i].at_h - at);
    all += (logs[i] - log) * (logs[i] - log);
  }
  if (!(square > 0)) return std::nullopt;
  const double left = std::max(all - across * across / square, 0.0) / (count - 2);
  return Slope{across / square, std::sqrt(std::max(left, kScatterLeast * kScatterLeast) / square)};
}

}  // namespace

std::optional<Trend> trend_of(const std::vector<Timed>& times, double slow) {
  if (times.size() < kCommissioned + 4) return std::nullopt;
  std::vector<double> logs;
  for (const Timed& flood : times) logs.push_back(std::log(flood.seconds));
  const auto commissioned = logs.begin() + kCommissioned;
  const double reference = middle_mean({logs.begin(), commissioned});
  Trend trend;
  trend.commissioned_s = std::exp(reference);
  double average = 0;
  for (std::size_t i = kCommissioned; i < times.size(); ++i) {
    average += kFade * (logs[i] - reference - average);
    trend.scatter = scatter_of(logs, i + 1);
    const double bound = bound_of(trend.scatter);
    if (average < kClear * bound) trend.flagged_h.reset();
    if (average > bound && !trend.flagged_h) trend.flagged_h = times[i].at_h, ++trend.flags;
  }
  trend.smallest_change = std::expm1(bound_of(trend.scatter));
  trend.change = std::expm1(average);
  trend.now_s = trend.commissioned_s * std::exp(average);
  const auto slope = slope_of(times, logs);
  if (!slope || !(slope->per_h > kSure * slope->deviation)) return trend;
  trend.per_day = std::expm1(slope->per_h * 24);
  if (const double left = std::log(slow) - average; left > 0)
    trend.reaches_h = times.back().at_h + left / slope->per_h;
  return trend;
}

}  // namespace neap::solution
