// What Balance makes of a record before anything is fitted: steps, knots, and the windows and
// floods that it will be compared with.
#include <algorithm>
#include <cmath>

#include "daemon/core/tent_model.h"
#include "daemon/identify/balance.h"

namespace neap::identify {
namespace {

constexpr std::size_t kSettlesIn = 60;   // steps after the start or a gap
constexpr std::size_t kAfterEdge = 120;  // steps: leaves take their time
constexpr std::size_t kBlock = 6 * 360;  // steps of a block of time, 6 h
// g/kg, of a window's mean: how far the model may be from the air for hours on end. With less than
// this, what the model gets wrong of a minute outvotes the reservoir (30 random tents: 0.03 had
// exchange rates 10 % off, 0.25 has 2 %).
constexpr double kModelError = 0.25;
// g/kg, likewise in a step test after its straight line is gone; over half minutes that err alike
// for five minutes, hence more than it is of one. A dehumidifier's answers are the larger and
// slower ones (30 random tents: 0.05 has its capacity 5.9 % off in the median, 0.15 7.4 %).
constexpr double kFanAnswerError = 0.15, kDryingAnswerError = 0.05;
constexpr std::size_t kLeastGlances = 30;  // of a test: a quarter of an hour
constexpr double kLevelBias = 0.02;        // L, of a level after a flood: what the medium holds
constexpr std::size_t kSmoothAir = 12, kSmoothRoom = 6, kSmoothWarmth = 6;  // steps to each side
// s, of the canopy temperature probe, mixing included (an assumption): without it a dehumidifier
// that warms the air seems to work at a humidity that it never saw, and is found 5 to 8 % too weak.
constexpr double kWarmthLag = 90;
// held do not count.
template <class Value>
double noise_of(std::size_t steps, Value&& value) {
  std::vector<double> changes;
  for (std::size_t i = 1; i < steps; ++i) {
    const auto before = value(i - 1), now = value(i);
    if (before && now && *before != *now) changes.push_back(std::abs(*now - *before));
  }
  if (changes.empty()) return 0;
  const auto middle = changes.begin() + static_cast<std::ptrdiff_t>(changes.size() / 2);
  std::nth_element(changes.begin(), middle, changes.end());
  // The median of |N(0, 2 s^2)| is 0.6745 sqrt(2) s.
  return *middle / (0.6745 * std::sqrt(2.0));
}

struct Level {
  double mean = 0;
  double variance = 0;  // of the mean
};

std::optional<Level> mean_level(const Record& record, std::size_t from, std::size_t to,
                                double noise) {
  double sum = 0;
  std::size_t count = 0;
  for (std::size_t i = from; i < std::min(to, record.steps.size()); ++i) {
    const Step& step = record.steps[i];
    if (step.water_moves) break;
    if (!step.level_l) continue;
    sum += *step.level_l;
    ++count;
  }
  if (count < 30) return {};
  const auto n = static_cast<double>(count);
  return Level{sum / n, noise * noise / n};
}

}  // namespace

void Balance::know(const Record& record) {
  steps_.resize(record.steps.size());
  const bool dries = beliefs_.labels.dehumidifier_place == DehumidifierPlace::tent;
  double warmer = 0, seen = 0;
  for (std::size_t i = 0; i < steps_.size(); ++i) {
    const Step& step = record.steps[i];
    Known& known = steps_[i];
    if (i > 0) known = steps_[i - 1];  // what is not read is carried on
    known.seen = step.canopy && step.room;
    known.lit = step.light > 0;
    known.mists = step.humidifier;
    known.dries = dries ? step.dehumidifier : 0;
    known.water_moves = step.water_moves;
    known.fan_part = std::max(0.0, step.fan - kDead) / (1 - kDead);
    if (known.seen) {
      const double saturation = tent_model::saturation_kpa(step.canopy->celsius);
      const double vapour = saturation * step.canopy->percent / 100;
      known.g_per_kg = tent_model::g_per_kg(vapour);
      known.g_per_kg_per_percent = tent_model::g_per_kg(vapour + saturation / 100) - known.g_per_kg;
      known.celsius = step.canopy->celsius;
      known.room_g_per_kg = tent_model::g_per_kg(tent_model::saturation_kpa(step.room->celsius) *
                                                 step.room->percent / 100);
      known.warmer_k = step.canopy->celsius - step.room->celsius;
      warmer += known.warmer_k;
      ++seen;
    }
    hours_drying_ += known.dries * kStepHours;
    if (known.dries > 0 && (i == 0 || steps_[i - 1].dries <= 0)) ++drying_starts_;
    hours_misting_ += known.mists * kStepHours;
    (known.lit ? hours_lit_ : hours_dark_) += kStepHours;
    mean_fan_ += step.fan / static_cast<double>(steps_.size());
  }
  if (seen > 0) mean_warmer_k_ = warmer / seen;
}

// The model takes these as known: what they say must not be the noise that it is compared with.
void Balance::smooth() {
  const auto mean_of = [&](double Known::*member, std::size_t side) {
    std::vector<double> sums{0};
    for (const Known& step : steps_) sums.push_back(sums.back() + step.*member);
    for (std::size_t i = 0; i < steps_.size(); ++i) {
      const std::size_t from = i - std::min(i, side);
      const std::size_t to = std::min(i + side + 1, steps_.size());
      steps_[i].*member = (sums[to] - sums[from]) / static_cast<double>(to - from);
    }
  };
  mean_of(&Known::warmer_k, kSmoothAir);
  mean_of(&Known::room_g_per_kg, kSmoothRoom);
  mean_of(&Known::celsius, kSmoothWarmth);
  std::vector<double> said;
  for (const Known& step : steps_) said.push_back(step.celsius);
  for (std::size_t i = 0; i < steps_.size(); ++i) {
    if (i >= kSmoothWarmth && i + kSmoothWarmth < steps_.size())
      steps_[i].celsius += kWarmthLag * (said[i + kSmoothWarmth] - said[i - kSmoothWarmth]) /
                           (2 * kSmoothWarmth * kStepSeconds);
    steps_[i].saturation_kpa = tent_model::saturation_kpa(steps_[i].celsius);
  }
}

void Balance::place_knots(const Record& record) {
  for (std::size_t from = 0; from < steps_.size();) {
    std::size_t to = from;
    while (to < steps_.size() && steps_[to].lit == steps_[from].lit) ++to;
    const double length = static_cast<double>(to - from) * kStepHours;
    const auto parts = static_cast<std::size_t>(std::max(1.0, std::round(length)));
    first_knots_.push_back(knots_);
    for (std::size_t i = from; i < to; ++i) {
      const double place = static_cast<double>(i - from) / static_cast<double>(to - from) *
                           static_cast<double>(parts);
      const auto whole = static_cast<std::size_t>(place);
      steps_[i].knot = knots_ + whole;
      steps_[i].after_knot = place - static_cast<double>(whole);
    }
    knots_ += parts + 1;
    from = to;
  }
  floods_ = static_cast<int>(record.floods.size());
}

double Balance::noise_of_air() const {
  return noise_of(steps_.size(), [&](std::size_t i) {
    return steps_[i].seen ? std::optional(steps_[i].g_per_kg) : std::nullopt;
  });
}

void Balance::cut_windows(const Record& record) {
  const double noise = noise_of_air();
  std::size_t good = 0, since_edge = kAfterEdge;
  for (std::size_t i = 0; i < steps_.size(); ++i) {
    if (i > 0) since_edge = steps_[i].lit == steps_[i - 1].lit ? since_edge + 1 : 0;
    good = steps_[i].seen && !record.steps[i].disturbed ? good + 1 : 0;
    const bool whole = good >= kSettlesIn + kWindow && since_edge >= kAfterEdge + kWindow;
    if (!whole || (i + 1) % kWindow != 0) continue;
    Window window{i + 1 - kWindow, i + 1,
                  std::hypot(noise / std::sqrt(static_cast<double>(kWindow)), kModelError), 0,
                  static_cast<int>(i / kBlock)};
    for (std::size_t k = window.from; k < window.to; ++k)
      window.target += steps_[k].g_per_kg / kWindow;
    air_.push_back(window);
  }
  double total = 0;
  for (std::size_t i = 0; i < steps_.size(); ++i)
    total += tent_model::kAirDensity *
             flow_m3_per_h(record.steps[i].fan, steps_[i].warmer_k, start()) *
             (steps_[i].g_per_kg - steps_[i].room_g_per_kg);
  typical_g_per_h_ = std::max(5.0, total / std::max(1.0, static_cast<double>(steps_.size())));
}

void Balance::cut_tests(const Record& record) {
  const double noise = noise_of_air() / std::sqrt(static_cast<double>(kGlance));
  for (const Test& test : record.tests) {
    Answer answer{tested_.size(), 0};
    const std::size_t end = std::min(test.to, steps_.size());
    const double error = test.of_fan ? kFanAnswerError : kDryingAnswerError;
    for (std::size_t from = test.from; from + kGlance <= end; from += kGlance) {
      Window window{from, from + kGlance, std::hypot(noise, error), 0,
                    static_cast<int>(from / kBlock)};
      bool whole = true;
      for (std::size_t k = window.from; k < window.to; ++k) {
        whole = whole && steps_[k].seen && !record.steps[k].disturbed;
        window.target += steps_[k].g_per_kg / kGlance;
      }
      if (whole) tested_.push_back(window);
    }
    answer.rows = tested_.size() - answer.first;
    if (answer.rows < kLeastGlances) {
      tested_.resize(answer.first);
      continue;
    }
    answers_.push_back(answer);
    ++(test.of_fan ? fan_tests_ : drying_tests_);
  }
}

// From the end of one flood to the end of the next, if nobody has touched the water in between.
void Balance::weigh_floods(const Record& record) {
  constexpr std::size_t kSettles = 18, kLook = 180;  // steps: 3 min, 30 min
  const double noise =
      noise_of(record.steps.size(), [&](std::size_t i) { return record.steps[i].level_l; });
  for (std::size_t k = 1; k < record.floods.size(); ++k) {
    const Flood& before = record.floods[k - 1];
    const Flood& flood = record.floods[k];
    if (!before.complete || !flood.complete || flood.drained >= steps_.size()) continue;
    const auto after_first =
        mean_level(record, before.drained + kSettles, before.drained + kSettles + kLook, noise);
    const auto after_second =
        mean_level(record, flood.drained + kSettles, flood.drained + kSettles + kLook, noise);
    const std::size_t look = std::min<std::size_t>(60, flood.began - before.drained);
    const auto resting = mean_level(record, flood.began - look, flood.began, noise);
    if (!after_first || !after_second || !resting) continue;
    const double hours = static_cast<double>(flood.drained - before.drained) * kStepHours;
    // A resting reservoir loses a few mL an hour past its lid; more is a leak, or a hand.
    const bool rests =
        std::abs(after_first->mean - resting->mean) <
        0.05 + 0.03 * hours + 4 * std::sqrt(after_first->variance + resting->variance);
    bool whole = rests;
    std::size_t unseen = 0;
    for (std::size_t i = before.drained; i < flood.drained; ++i) {
      whole = whole && !record.steps[i].disturbed;
      unseen += steps_[i].seen ? 0 : 1;
    }
    if (!whole || 10 * unseen > flood.drained - before.drained) continue;
    Window row{before.drained, flood.drained, 0, 0, static_cast<int>(flood.drained / kBlock)};
    row.spread = 1000 * std::sqrt(after_first->variance + after_second->variance +
                                  2 * kLevelBias * kLevelBias);
    row.target = 1000 * (after_first->mean - after_second->mean);
    water_.push_back(row);
  }
}

}  // namespace neap::identify
