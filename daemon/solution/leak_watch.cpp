#include "daemon/solution/leak_watch.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/solution/statistics.h"

namespace neap::solution {
namespace {

// For at most one false alarm a year of both detectors (tests/bench/trends measures them).
constexpr double kIdleThreshold = 8.5;
constexpr double kCycleThreshold = 12;
constexpr double kLearnBelow = 0.5;  // of the threshold: what looks like a leak is not learnt from
// A suspicion that lasts is one: a new one within so many hours goes on with the last.
constexpr double kSameLeakHours = 72;
constexpr double kMemoryHours = 10 * 24;
// Less is no leak to a grower: an open reservoir evaporates as much (see kUsualMost).
constexpr double kLeastTold = 0.020;  // L/h

// --- idle slope ---------------------------------------------------------------------------------

// A probe's slow drift, as a part of what single readings scatter, until the record has said
// better: 0.35 mm beside 1.15 mm of an ultrasonic sensor (control laboratory's model of one; no
// source).
constexpr double kDriftPart = 0.3;
// A drift of deviation d that forgets itself in three hours makes least-squares slopes of 1.2 d/T
// to 1.57 d/T over T = 2.5 to 20 h (its covariance, integrated).
constexpr double kDriftSlope = 1.45;
constexpr double kPriorWindows = 6;
// Evaporation past a lid and a drift with the time of day: some mL an hour, learnt for each quarter
// of the day and bounded by what an open reservoir of 0.25 m2 evaporates (15 to 30 g/h; Smith, Lof
// and Jones 1998), so that no leak above it is ever taken for it.
constexpr double kUsualDeviation = 0.006;  // L/h
constexpr double kUsualMost = 0.020;       // L/h
constexpr std::size_t kQuarters = 4;

std::size_t quarter_of(double at_h) {
  const double of_day = at_h - 24 * std::floor(at_h / 24);
  return std::min(static_cast<std::size_t>(of_day / 6), kQuarters - 1);
}

double prior_deviation(const IdleWindow& window) {
  const double white = window.scatter_l * std::sqrt(12.0 / window.readings) / window.hours();
  const double drift = kDriftSlope * kDriftPart * window.scatter_l / window.hours();
  return std::hypot(white, drift);
}

// Finds the suspicions of one detector, one standardised value after the other.
class Judge {
 public:
  Judge(LeakSign sign, double threshold, std::vector<Suspicion>& found)
      : sign_(sign), threshold_(threshold), found_(found) {}

  bool quiet() const { return cusum_.sum < kLearnBelow * threshold_ && !standing_; }
  // Nothing is left to judge by: what stood is neither said nor over.
  void lose_sight() {
    if (standing_) found_[last_].lost_sight = true;
    cusum_.sum = weight_ = 0;
    standing_ = false;
  }

  void take(double from_h, double to_h, double excess, double deviation) {
    const bool rested = cusum_.sum == 0;
    cusum_.take(excess / deviation);
    if (cusum_.sum == 0) {
      standing_ = false;
      weight_ = 0;
      return;
    }
    if (rested || weight_ == 0) since_h_ = from_h, weight_ = 0, mean_ = 0;
    const double weight = 1 / (deviation * deviation);
    weight_ += weight;
    mean_ += (excess - mean_) * weight / weight_;
    if (cusum_.sum < threshold_) return;
    if (mean_ < kLeastTold) {  // sure, but no more than weather does to a lid: learnt as usual
      cusum_.sum = 0;
      weight_ = 0;
      return;
    }
    cusum_.sum = threshold_;  // it comes down again soon after the leak is closed
    tell(to_h);
  }

 private:
  void tell(double at_h) {
    if (!told_ || !(standing_ || at_h - found_[last_].last_h < kSameLeakHours)) {
      last_ = found_.size();
      told_ = true;
      found_.push_back({sign_, since_h_, at_h, at_h, mean_});
    }
    found_[last_].last_h = at_h;
    found_[last_].l_per_h = mean_;
    found_[last_].lost_sight = false;
    standing_ = true;
  }

  LeakSign sign_;
  double threshold_;
  std::vector<Suspicion>& found_;
  Cusum cusum_;
  double since_h_ = 0;
  bool told_ = false;  // gcc 14 mistrusts an optional here
  std::size_t last_ = 0;
  bool standing_ = false;
  double weight_ = 0, mean_ = 0;
};

class IdleScatter {
 public:
  double deviation(const IdleWindow& window) const {
    // However good the sensor: what evaporates past a lid follows the air by some mL an hour.
    return std::hypot(prior_deviation(window) * std::sqrt(squares_ / weight_), kUsualDeviation);
  }
  double usual(double at_h) const {
    const Usual& usual = usual_[quarter_of(at_h)];
    return std::clamp(usual.sum / (usual.weight + 1 / (kUsualDeviation * kUsualDeviation)),
                      -kUsualMost, kUsualMost);
  }
  void learn(const IdleWindow& window) {
    const double excess = window.loss_l_per_h - usual(window.middle_h());
    const double z = excess / prior_deviation(window);
    const double most = 9 * squares_ / weight_;  // a spoilt window teaches little
    squares_ = squares_ * kForget + std::min(z * z, most);
    weight_ = weight_ * kForget + 1;
    const double deviation_now = deviation(window);
    Usual& usual = usual_[quarter_of(window.middle_h())];
    usual.sum = usual.sum * kForget + window.loss_l_per_h / (deviation_now * deviation_now);
    usual.weight = usual.weight * kForget + 1 / (deviation_now * deviation_now);
  }

 private:
  static constexpr double kForget = 0.98;  // a memory of fifty windows, about ten days
  struct Usual {
    double sum = 0;
    double weight = 0;
  };
  double squares_ = kPriorWindows;
  double weight_ = kPriorWindows;
  std::array<Usual, kQuarters> usual_;
};

// The leak that such windows make pass the threshold in so many hours, when each shows it whole.
std::optional<double> flagged_within(double hours, double windows_per_day, double deviation) {
  // The window under way when it begins shows a part of it only.
  const double windows = hours / 24 * windows_per_day - 0.5;
  const double needed = kIdleThreshold / windows + Cusum{}.allowance;
  if (!(windows > 0) || needed > Cusum{}.most) return std::nullopt;
  return std::max(needed * deviation, kLeastTold);
}

Detectability detectability(const std::vector<IdleWindow>& windows, const IdleScatter& scatter) {
  Detectability result;
  result.windows = static_cast<int>(windows.size());
  if (windows.size() < 4) return result;
  std::vector<double> deviations;
  for (const IdleWindow& window : windows) {
    deviations.push_back(scatter.deviation(window));
    result.longest_window_h = std::max(result.longest_window_h, window.hours());
  }
  const double days = (windows.back().to_h - windows.front().from_h) / 24;
  result.windows_per_day = static_cast<double>(windows.size()) / std::max(days, 1.0);
  // A leak adds L/deviation a window: what counts is the mean of the inverses.
  double inverse = 0;
  for (const double deviation : deviations)
    inverse += 1 / deviation / static_cast<double>(deviations.size());
  result.scatter_l_per_h = 1 / inverse;
  result.within_a_day_l_per_h = flagged_within(24, result.windows_per_day, result.scatter_l_per_h);
  result.within_two_days_l_per_h =
      flagged_within(48, result.windows_per_day, result.scatter_l_per_h);
  return result;
}

// --- cycle balance ------------------------------------------------------------------------------

constexpr std::size_t kLeastCycles = 16;
constexpr double kFirstScatter = 0.15;  // of the usual rate, until the record has said better

struct Balanced {
  double at_h;
  double rate;    // L/h that the reservoir lost
  double demand;  // an hour of the cycle's own length
};

// rate = (a + b t) demand, t in days before now, over the memory; b is held to growth of some
// per cent a day.
struct Taking {
  double a = 0;
  double deviation = 0;  // L/h, of a rate around it
};
constexpr double kGrowthDeviation = 0.03;  // a day, of a

std::optional<Taking> taking_at(const std::vector<Balanced>& memory, double now_h) {
  if (memory.size() < kLeastCycles) return std::nullopt;
  double xx = 0, xt = 0, tt = 0, xy = 0, ty = 0;
  std::vector<double> ratios;
  for (const Balanced& cycle : memory) {
    if (cycle.demand > 0) ratios.push_back(cycle.rate / cycle.demand);
    const double x = cycle.demand;
    const double t = cycle.demand * (cycle.at_h - now_h) / 24;
    xx += x * x, xt += x * t, tt += t * t;
    xy += x * cycle.rate, ty += t * cycle.rate;
  }
  if (ratios.size() < kLeastCycles) return std::nullopt;
  const double rough = median(ratios);
  // The prior on growth as one more row, of the scatter that cycles have at first.
  const double scatter = kFirstScatter * rough * std::sqrt(xx / static_cast<double>(memory.size()));
  const double growth = kGrowthDeviation * rough;
  if (!(growth > 0)) return std::nullopt;
  tt += scatter * scatter / (growth * growth);
  const double determinant = xx * tt - xt * xt;
  if (!(determinant > 0)) return std::nullopt;
  Taking taking;
  taking.a = (xy * tt - ty * xt) / determinant;
  const double b = (ty * xx - xy * xt) / determinant;
  std::vector<double> off;
  for (const Balanced& cycle : memory)
    off.push_back(std::abs(cycle.rate - (taking.a + b * (cycle.at_h - now_h) / 24) * cycle.demand));
  // 1.4826 medians of what is off are a deviation (of a normal distribution).
  taking.deviation = 1.4826 * median(off);
  return taking;
}

// What is off in one cycle of a day tends to be off in the next, because the estimate of what the
// air asked is off for the day: a sum of them scatters more than the single ones say. Learnt from
// the sums of whole days.
class DayScatter {
 public:
  double factor() const { return std::max(1.0, std::sqrt(squares_ / weight_)); }
  void learn(double at_h, double z) {
    day_.push_back({at_h, z});
    while (at_h - day_.front().at_h >= 23.5) day_.erase(day_.begin());
    double sum = 0;
    for (const Off& off : day_) sum += off.z;
    const double square = sum * sum / static_cast<double>(day_.size());
    squares_ = squares_ * kForget + std::min(square, 9 * squares_ / weight_);
    weight_ = weight_ * kForget + 1;
  }

 private:
  static constexpr double kForget = 0.99;
  static constexpr double kPrior = 20;
  static constexpr double kPriorFactor = 1.3;  // a table of mixed days; kept on the safe side
  struct Off {
    double at_h;
    double z;
  };
  std::vector<Off> day_;
  double squares_ = kPrior * kPriorFactor * kPriorFactor;
  double weight_ = kPrior;
};

int balance_cycles(const WaterRecord& record, std::vector<Suspicion>& found) {
  std::vector<Balanced> memory;
  Judge judge(LeakSign::cycle_balance, kCycleThreshold, found);
  DayScatter scatter;
  int judged = 0;
  for (const CycleLoss& cycle : cycle_losses(record)) {
    if (cycle.poured || !cycle.demand || cycle.hours() < kWindowLeastHours) continue;
    const Balanced here{cycle.to_h, cycle.litres / cycle.hours(), *cycle.demand / cycle.hours()};
    const bool quiet = judge.quiet();
    // While something is suspected nothing is learnt, and what was learnt before must not run out
    // under it; but plants outgrow it.
    if (!quiet && here.at_h - memory.back().at_h > kMemoryHours) {
      judge.lose_sight();
      memory.clear();
    }
    while (quiet && !memory.empty() && here.at_h - memory.front().at_h > kMemoryHours)
      memory.erase(memory.begin());
    if (const auto taking = taking_at(memory, here.at_h); taking && taking->deviation > 0) {
      ++judged;
      const double excess = here.rate - taking->a * here.demand;
      judge.take(cycle.from_h, cycle.to_h, excess, taking->deviation * scatter.factor());
      if (quiet) scatter.learn(here.at_h, excess / taking->deviation);
    }
    if (judge.quiet()) memory.push_back(here);
  }
  return judged;
}

}  // namespace

LeakFindings watch_for_leaks(const WaterRecord& record) {
  LeakFindings findings;
  const std::vector<IdleWindow> windows = idle_windows(record);
  IdleScatter scatter;
  Judge judge(LeakSign::idle_slope, kIdleThreshold, findings.suspicions);
  for (const IdleWindow& window : windows) {
    const double excess = window.loss_l_per_h - scatter.usual(window.middle_h());
    judge.take(window.from_h, window.to_h, excess, scatter.deviation(window));
    if (judge.quiet()) scatter.learn(window);
  }
  findings.idle = detectability(windows, scatter);
  findings.cycles_judged = balance_cycles(record, findings.suspicions);
  std::sort(findings.suspicions.begin(), findings.suspicions.end(),
            [](const Suspicion& a, const Suspicion& b) { return a.flagged_h < b.flagged_h; });
  return findings;
}

}  // namespace neap::solution
