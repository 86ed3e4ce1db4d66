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
// Of the newest floods, none of them before number `from`.
std::optional<Slope> slope_of(const std::vector<Timed>& times, const std::vector<double>& logs,
                              std::size_t from) {
  const std::size_t n = std::min(kSlopeFloods, times.size() - from);
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

// A belief of no effect, worth so many pourings of 10 L.
constexpr double kPriorPourings = 0.5;
constexpr double kPriorLitres = 10;

double per_litre_of(const std::vector<Timed>& times) {
  double across = 0;
  double square = kPriorPourings * kPriorLitres * kPriorLitres;
  for (std::size_t i = 1; i < times.size(); ++i) {
    if (!times[i].level_l || !times[i - 1].level_l) continue;
    const double litres = *times[i].level_l - *times[i - 1].level_l;
    across += litres * std::log(times[i].seconds / times[i - 1].seconds);
    square += litres * litres;
  }
  return across / square;
}

// As the times would be at the mean level.
std::vector<double> logs_at_mean_level(const std::vector<Timed>& times, double per_litre) {
  double sum = 0, known = 0;
  for (const Timed& flood : times)
    if (flood.level_l) sum += *flood.level_l, known += 1;
  std::vector<double> logs;
  for (const Timed& flood : times)
    logs.push_back(std::log(flood.seconds) -
                   (flood.level_l ? per_litre * (*flood.level_l - sum / known) : 0));
  return logs;
}

std::vector<Timed> since_commissioned(const std::vector<Timed>& times,
                                      const std::vector<Renewal>& renewals) {
  std::vector<Timed> since = times;
  for (const Renewal& renewal : renewals)
    if (renewal.commissioned)
      std::erase_if(since, [&](const Timed& flood) { return flood.at_h < renewal.at_h; });
  return since;
}

bool cleaned_between(const std::vector<Renewal>& renewals, double from_h, double to_h) {
  return std::any_of(renewals.begin(), renewals.end(), [&](const Renewal& renewal) {
    return !renewal.commissioned && renewal.at_h > from_h && renewal.at_h <= to_h;
  });
}

}  // namespace

std::optional<Trend> trend_of(const std::vector<Timed>& all, double slow,
                              const std::vector<Renewal>& renewals) {
  const std::vector<Timed> times = since_commissioned(all, renewals);
  if (times.size() < kCommissioned + 4) return std::nullopt;
  Trend trend;
  trend.per_litre = per_litre_of(times);
  const std::vector<double> logs = logs_at_mean_level(times, trend.per_litre);
  const double reference = middle_mean({logs.begin(), logs.begin() + kCommissioned});
  trend.commissioned_s = std::exp(reference);
  double average = 0;
  std::size_t renewed = 0;  // floods before the newest cleaning
  for (std::size_t i = kCommissioned; i < times.size(); ++i) {
    if (cleaned_between(renewals, times[i - 1].at_h, times[i].at_h)) average = 0, renewed = i;
    average += kFade * (logs[i] - reference - average);
    trend.scatter = scatter_of(logs, i + 1);
    const double bound = bound_of(trend.scatter);
    if (average < kClear * bound) trend.flagged_h.reset();
    if (average > bound && !trend.flagged_h) trend.flagged_h = times[i].at_h, ++trend.flags;
  }
  trend.smallest_change = std::expm1(bound_of(trend.scatter));
  trend.change = std::expm1(average);
  trend.now_s = trend.commissioned_s * std::exp(average);
  const auto slope = slope_of(times, logs, std::max<std::size_t>(renewed, kCommissioned));
  if (!slope || !(slope->per_h > kSure * slope->deviation)) return trend;
  trend.per_day = std::expm1(slope->per_h * 24);
  if (const double left = std::log(slow) - average; left > 0)
    trend.reaches_h = times.back().at_h + left / slope->per_h;
  return trend;
}

}  // namespace neap::solution
