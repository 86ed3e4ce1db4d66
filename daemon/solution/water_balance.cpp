#include "daemon/solution/water_balance.h"

#include <algorithm>
#include <cmath>
#include <span>

#include "daemon/solution/statistics.h"

namespace neap::solution {
namespace {

constexpr double kMinute = 1.0 / 60;
constexpr double kPouringTakes = 10 * kMinute;
// Readings before a flood that make its level: they average the noise of a sensor of +-2 mm out.
constexpr double kBeforeFlood = 20 * kMinute;
constexpr int kLeastReadings = 5;
constexpr double kDayHours = 24;
constexpr double kKnownHours = 6;

using Readings = std::span<const Level>;

Readings between(const std::vector<Level>& levels, double from_h, double to_h) {
  const auto by_time = [](const Level& level, double at) { return level.at_h < at; };
  const auto first = std::lower_bound(levels.begin(), levels.end(), from_h, by_time);
  const auto last = std::lower_bound(first, levels.end(), to_h, by_time);
  return {first, last};
}

double mean_of(Readings readings) {
  double sum = 0;
  for (const Level& level : readings) sum += level.litres;
  return sum / static_cast<double>(readings.size());
}

std::optional<IdleWindow> window_of(Readings readings) {
  if (readings.size() < 3) return std::nullopt;
  const double hours = readings.back().at_h - readings.front().at_h;
  if (hours < kWindowLeastHours) return std::nullopt;
  const auto n = static_cast<double>(readings.size());
  double middle = 0;
  for (const Level& level : readings) middle += level.at_h / n;
  const double mean = mean_of(readings);
  double across = 0, square = 0, all = 0;
  for (const Level& level : readings) {
    across += (level.at_h - middle) * (level.litres - mean);
    square += (level.at_h - middle) * (level.at_h - middle);
    all += (level.litres - mean) * (level.litres - mean);
  }
  IdleWindow window;
  window.from_h = readings.front().at_h;
  window.to_h = readings.back().at_h;
  window.readings = static_cast<int>(readings.size());
  window.loss_l_per_h = -across / square;
  window.scatter_l = std::sqrt(std::max(all - across * across / square, 0.0) / (n - 2));
  return window;
}

// Index of the reading before which somebody poured, or the end: the mean of the ten minutes after
// lies that much over the ten minutes before.
std::size_t poured_before(Readings readings) {
  std::size_t early = 0, late = 0;
  double before = 0, after = 0;
  std::size_t in_before = 0, in_after = 0;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const double at = readings[i].at_h;
    for (; late < readings.size() && readings[late].at_h < at + kPouringTakes; ++late, ++in_after)
      after += readings[late].litres;
    for (; readings[early].at_h < at - kPouringTakes; ++early, --in_before)
      before -= readings[early].litres;
    if (in_before >= kLeastReadings && in_after >= kLeastReadings &&
        after / static_cast<double>(in_after) - before / static_cast<double>(in_before) >
            kPouredLitres)
      return i;
    before += readings[i].litres;
    ++in_before;
    after -= readings[i].litres;
    --in_after;
  }
  return readings.size();
}

// The windows of one stretch without floods, cut where somebody poured and into even parts where it
// is long.
void add_windows(Readings stretch, std::vector<IdleWindow>& windows) {
  while (!stretch.empty()) {
    const std::size_t end = std::max<std::size_t>(poured_before(stretch), 1);
    const Readings quiet = stretch.first(end);
    const double hours = quiet.back().at_h - quiet.front().at_h;
    const int parts = std::max(1, static_cast<int>(std::ceil(hours / kWindowMostHours)));
    for (int part = 0; part < parts; ++part) {
      const auto edge = [&](int of) {
        return quiet.size() * static_cast<std::size_t>(of) / static_cast<std::size_t>(parts);
      };
      if (const auto window = window_of(quiet.subspan(edge(part), edge(part + 1) - edge(part))))
        windows.push_back(*window);
    }
    // Pouring takes a while: what rises still belongs to neither side.
    std::size_t next = end;
    while (end < stretch.size() && next < stretch.size() &&
           stretch[next].at_h < stretch[end].at_h + kPouringTakes)
      ++next;
    stretch = stretch.subspan(next);
  }
}

}  // namespace

std::vector<IdleWindow> idle_windows(const WaterRecord& record) {
  std::vector<IdleWindow> windows;
  if (record.levels.empty()) return windows;
  double from = record.levels.front().at_h;
  for (const Flood& flood : record.floods) {
    if (flood.began_h > from) add_windows(between(record.levels, from, flood.began_h), windows);
    from = std::max(from, flood.drained_h + kDripHours);
  }
  add_windows(between(record.levels, from, record.levels.back().at_h + kMinute), windows);
  return windows;
}

namespace {

// From when on the level before entry `i` is the reservoir's own: what somebody poured at work has
// been read, and a tray has dripped out before somebody came. Floods follow each other as the
// schedule has them, and what drips of one is missing before each of them alike.
double rested_after(const std::vector<Flood>& floods, std::size_t i) {
  const Flood& last = floods[i - 1];
  return last.drained_h + (floods[i].worked && !last.worked ? kDripHours : 0);
}

}  // namespace

std::vector<CycleLoss> cycle_losses(const WaterRecord& record) {
  std::vector<CycleLoss> cycles;
  std::optional<double> before;
  for (std::size_t i = 0; i < record.floods.size(); ++i) {
    const Flood& flood = record.floods[i];
    const double rested_h = i == 0 ? flood.began_h - kBeforeFlood : rested_after(record.floods, i);
    const Readings readings =
        between(record.levels, std::max(flood.began_h - kBeforeFlood, rested_h),
                flood.began_h - kMinute / 2);
    const bool known = readings.size() >= kLeastReadings;
    if (known && before && !record.floods[i - 1].worked) {
      CycleLoss cycle;
      cycle.from_h = record.floods[i - 1].began_h;
      cycle.to_h = flood.began_h;
      cycle.litres = *before - mean_of(readings);
      cycle.demand = record.floods[i - 1].demand;
      cycle.poured = cycle.litres < -kPouredLitres;
      cycles.push_back(cycle);
    }
    before = known ? std::optional(mean_of(readings)) : std::nullopt;
  }
  return cycles;
}

std::vector<DayLoss> day_losses(const std::vector<CycleLoss>& cycles) {
  std::vector<DayLoss> days;
  std::vector<double> rates;
  for (const CycleLoss& cycle : cycles)
    if (!cycle.poured) rates.push_back(cycle.litres / cycle.hours());
  const double usual = rates.empty() ? 0 : median(rates);
  double known_h = 0, lost = 0;
  const auto close = [&] {
    if (!days.empty() && known_h >= kKnownHours) days.back().litres = lost / known_h * kDayHours;
    known_h = lost = 0;
  };
  for (const CycleLoss& cycle : cycles) {
    const int day = static_cast<int>(std::floor(cycle.to_h / kDayHours));
    if (days.empty() || days.back().day != day) {
      close();
      days.push_back({day, std::nullopt, 0});
    }
    if (cycle.poured) {
      days.back().poured_l += usual * cycle.hours() - cycle.litres;
    } else {
      known_h += cycle.hours();
      lost += cycle.litres;
    }
  }
  close();
  return days;
}

std::optional<double> loss_per_day(const std::vector<DayLoss>& days, std::size_t most) {
  double sum = 0;
  std::size_t known = 0;
  for (auto day = days.rbegin(); day != days.rend() && known < most; ++day)
    if (day->litres) sum += *day->litres, ++known;
  if (known == 0) return std::nullopt;
  return sum / static_cast<double>(known);
}

std::optional<double> days_until(double level_l, double needed_l, std::optional<double> l_per_day) {
  if (level_l <= needed_l) return 0.0;
  if (!l_per_day || *l_per_day <= 0) return std::nullopt;
  return (level_l - needed_l) / *l_per_day;
}

}  // namespace neap::solution
