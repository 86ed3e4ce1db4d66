#include "daemon/core/balance.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/flood_level.h"

namespace neap {
namespace {

// Evaporation past a lid is 4 mL/h (an assumption of our own model); some lids are no lids.
constexpr double kEvaporationLPerH = 0.03;
// A level sensor wanders by this part of its reservoir in some hours: 0.35 mm of 0.33 m (common
// practice, no source).
constexpr double kWanderPart = 0.001;
constexpr double kWanderHours = 3;
// Windows: shorter ones tell the sensor's wander, longer ones no more.
constexpr double kShortestHours = 1;
constexpr double kLongestHours = 6;
// Cusum with half a deviation of slack and a limit of five: one false alarm in 938 windows of pure
// noise (Siegmund's approximation), and a leak-free reservoir is allowed its evaporation on top.
constexpr double kSlack = 0.5;
constexpr double kLimit = 5;
constexpr double kMostScore = kLimit + 4;
// No window alone raises the alarm: a litre taken out for the meter is no leak.
constexpr double kMostOfAWindow = 3;
constexpr double kDecisive = 2 * kMostOfAWindow;  // then a window need not be longer

double hours_between(Instant from, Instant to) {
  return static_cast<double>((to - from).count()) / 3'600'000;
}

struct Slope {
  double hours;
  double fall_l_per_h;
  double deviations;  // by how many the fall exceeds evaporation
};

std::optional<Slope> slope_of(const IdleWindow& w, const TablePlan& table) {
  const double hours = w.n > 0 ? hours_between(w.began, w.newest) : 0;
  if (hours < kShortestHours || w.n < 3) return std::nullopt;
  const double tt = w.tt - w.t * w.t / w.n;
  const double tv = w.tv - w.t * w.v / w.n;
  const double vv = w.vv - w.v * w.v / w.n;
  const double slope = tv / tt;
  const double noise = std::max(0.0, vv - slope * tv) / (w.n - 2) / tt;
  const double wander = kWanderPart * table.reservoir_capacity.value *
                        std::max(1 / kWanderHours, std::sqrt(2.0) / hours);
  const double sd = std::sqrt(noise + wander * wander);
  return Slope{hours, -slope, (-slope - kEvaporationLPerH) / sd};
}

void weigh(WaterBalance& balance, const Slope& slope) {
  if (balance.score <= 0) balance = {};
  const double hours = balance.hours + slope.hours;
  balance.l_per_h = (balance.l_per_h * balance.hours + slope.fall_l_per_h * slope.hours) / hours;
  balance.hours = hours;
  const double evidence = std::min(slope.deviations, kMostOfAWindow) - kSlack;
  balance.score = std::clamp(balance.score + evidence, 0.0, kMostScore);
}

void conclude(const TablePlan& table, WaterBalance& balance, IdleWindow& window) {
  if (const auto slope = slope_of(window, table)) weigh(balance, *slope);
  window.n = 0;
}

void add(IdleWindow& w, const Reading<Litres>& reservoir) {
  if (w.n == 0) {
    w.began = reservoir.taken();
    w.first_l = reservoir->value;
    w.t = w.v = w.tt = w.tv = w.vv = 0;
  }
  w.newest = reservoir.taken();
  const double t = hours_between(w.began, w.newest);
  const double v = reservoir->value - w.first_l;
  w.n += 1;
  w.t += t;
  w.v += v;
  w.tt += t * t;
  w.tv += t * v;
  w.vv += v * v;
}

// Does the level stand as high as if water had been poured in without a word?
bool stands_above(const IdleWindow& w, double level_l) {
  return w.n > 0 && level_l - w.first_l > w.v / w.n + kTopUpL;
}

}  // namespace

void follow_balance(const TablePlan& table, WaterBalance& balance, IdleWindow& window,
                    std::optional<Instant> still_from, const Reading<Litres>& reservoir,
                    bool service) {
  if (window.service && !service && slow_leak(balance)) balance.score = kLimit / 2;
  window.service = service;
  if (still_from != window.still_from) {
    conclude(table, balance, window);
    window.still_from = still_from;
  }
  if (!still_from || reservoir.quality() != Quality::good) return;
  if (reservoir.taken() < *still_from + kDrainDown) return;
  if (window.n > 0 && reservoir.taken() <= window.newest) return;
  if (stands_above(window, reservoir->value)) {
    // One reading alone may be a slip of the probe; with a second one the window is over.
    window.newest = reservoir.taken();
    window.above = !window.above;
    if (window.above) return;
    conclude(table, balance, window);
  }
  window.above = false;
  add(window, reservoir);
  const std::optional<Slope> slope = slope_of(window, table);
  if (slope && (slope->hours >= kLongestHours || slope->deviations >= kDecisive))
    conclude(table, balance, window);
}

bool slow_leak(const WaterBalance& balance) { return balance.score >= kLimit; }

}  // namespace neap
