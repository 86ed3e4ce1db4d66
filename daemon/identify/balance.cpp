#include "daemon/identify/balance.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/tent_model.h"

namespace neap::identify {
namespace {

constexpr double kWander = 0.15;                     // of the vapour source in an hour
constexpr double kFloodPeak = 60;                    // g/h
constexpr double kSplashFor = 90;                    // s
constexpr double kHolds = 600;                       // s
constexpr double kMixes = 20;                        // s, with a circulation fan; an assumption
constexpr double kRunsUpIn = 150, kRunsDownIn = 40;  // s, as tent_observer.cpp has them
constexpr double kPeltierRunsIn = 20;                // s
constexpr double kCoilDriesIn = 1500;                // s kPa
constexpr std::size_t kColours = 4;
constexpr double kLeakPerRootKelvin = 1.6;  // as tent_model.cpp has it

constexpr std::size_t at(Unknown u) { return static_cast<std::size_t>(u); }

double part_in(double tau_s) { return 1 - std::exp(-kStepSeconds / tau_s); }

// Takes the straight line that fits them best out of `rows` numbers.
template <class At>
void straighten(std::size_t rows, At&& at) {
  const double middle = 0.5 * static_cast<double>(rows - 1);
  double sum = 0, moment = 0, spread = 0;
  for (std::size_t i = 0; i < rows; ++i) {
    const double place = static_cast<double>(i) - middle;
    sum += at(i);
    moment += place * at(i);
    spread += place * place;
  }
  for (std::size_t i = 0; i < rows; ++i)
    at(i) -= sum / static_cast<double>(rows) + moment / spread * (static_cast<double>(i) - middle);
}

// A dehumidifier in the tent, through its run-up and the water on its coil.
class Drier {
 public:
  // `drying` times the label; the coil holds `holds_g`, a plate that drips at once nothing.
  Drier(const neap::Beliefs& labels, double drying, double holds_g)
      : labels_(labels),
        peltier_(labels.dehumidifier_kind == DehumidifierKind::peltier),
        drying_(drying),
        holds_g_(peltier_ ? 0 : holds_g) {}

  // What it takes out of the air, less what dries off its coil, g/h. `runs`: part of the step.
  double step(double runs, const tent_model::MoistAir& air, double vpd_kpa) {
    if (runs <= 0 && run_up_ < 1e-3 && coil_g_ < 1e-3) return 0;
    const double up = part_in(peltier_ ? kPeltierRunsIn : kRunsUpIn);
    const double down = part_in(peltier_ ? kPeltierRunsIn : kRunsDownIn);
    run_up_ += (runs > run_up_ ? up : down) * (runs - run_up_);
    const double taken = drying_ * tent_model::drying_at(labels_, air).g_per_h * run_up_;
    const double dries = -std::expm1(-std::max(0.0, vpd_kpa) * kStepSeconds / kCoilDriesIn);
    const double dried = (1 - runs) * coil_g_ * dries / kStepHours;
    coil_g_ = std::min(holds_g_, coil_g_ + (taken - dried) * kStepHours);
    return taken - dried;
  }

 private:
  const neap::Beliefs& labels_;
  const bool peltier_;
  const double drying_, holds_g_;
  double run_up_ = 0, coil_g_ = 0;
};

std::array<Prior, kUnknowns> priors_for(const Beliefs& beliefs) {
  // Labels are off by a third; the rest are tents as they are built, no source.
  return {{
      {Unknown::flow, 1, 0.35, true},
      {Unknown::leak, 4.5, 0.5, true},
      {Unknown::drying, 1, 0.4, true},
      {Unknown::mist, 1, 0.4, true},
      {Unknown::storage, 1.1, 0.15, true},
      {Unknown::held, 1, 0.2, true},
      {Unknown::answer, 0.65, 0.2, false},
      // Two probes out of the box differ by 2 %; compared ones by what a comparison cannot see.
      {Unknown::offset, 0, beliefs.probes_compared ? 0.3 : 2.0, false},
      {Unknown::lag, 40, 0.4, true},
      {Unknown::coil, 50, 0.3, true},
      {Unknown::room_lag, 60, 0.15, true},
      {Unknown::flood, 0.6, 0.7, true},
      {Unknown::splash, 0.4, 0.7, true},
      {Unknown::fades, 1500, 0.4, true},
  }};
}

}  // namespace

Balance::Balance(const Record& record, const Beliefs& beliefs)
    : beliefs_(beliefs), priors_(priors_for(beliefs)) {
  know(record);
  smooth();
  place_knots(record);
  cut_windows(record);
  weigh_floods(record);
  cut_tests(record);
}

double Balance::value(Unknown which, const std::vector<double>& unknown) const {
  const Prior& prior = priors_[at(which)];
  const double x = unknown[at(which)];
  return prior.logarithmic ? prior.middle * std::exp(x) : prior.middle + x;
}

double Balance::prior_spread(Unknown which) const { return priors_[at(which)].spread; }

double Balance::flow_m3_per_h(double level, double warmer_k,
                              const std::vector<double>& unknown) const {
  const double part = std::max(0.0, level - kDead) / (1 - kDead);
  const double fan = value(Unknown::flow, unknown) * beliefs_.labels.fan_m3_per_h * part;
  const double leak =
      value(Unknown::leak, unknown) + kLeakPerRootKelvin * std::sqrt(std::abs(warmer_k));
  return std::hypot(fan, leak);
}

double Balance::probe_lag_s(const std::vector<double>& unknown) const {
  return kMixes + value(Unknown::lag, unknown);
}

std::vector<double> Balance::start() const {
  std::vector<double> unknown(width(), typical_g_per_h_);
  std::fill_n(unknown.begin(), kUnknowns, 0.0);
  return unknown;
}

Layout Balance::layout() const {
  Layout layout;
  for (const Window& row : air_) layout.block.push_back(row.block);
  for (const Window& row : water_) layout.block.push_back(row.block);
  for (const Window& row : tested_) layout.block.push_back(row.block);
  layout.prior_from = layout.block.size();
  return layout;
}

// Vapour that tent and flood would give off at 1 kPa.
std::vector<double> Balance::sources(const std::vector<double>& unknown) const {
  const double of_medium = value(Unknown::flood, unknown) * kFloodPeak;
  const double of_splash = value(Unknown::splash, unknown) * kFloodPeak;
  const double splashes = part_in(kSplashFor);
  const double fades = part_in(value(Unknown::fades, unknown));
  double splash = 0, wet = 0;
  std::vector<double> g_per_h(steps_.size());
  for (std::size_t i = 0; i < steps_.size(); ++i) {
    const Known& step = steps_[i];
    const double* knot = unknown.data() + kUnknowns + step.knot;
    splash += splashes * ((step.water_moves ? 1 : 0) - splash);
    wet += step.water_moves ? splashes * (1 - wet) : -fades * wet;
    g_per_h[i] = (1 - step.after_knot) * knot[0] + step.after_knot * knot[1] + of_splash * splash +
                 of_medium * wet;
  }
  return g_per_h;
}

Balance::Course Balance::follow(const std::vector<double>& unknown) const {
  const std::size_t n = steps_.size();
  Course course{std::vector<double>(n), sources(unknown)};
  Drier drier(beliefs_.labels, value(Unknown::drying, unknown), value(Unknown::coil, unknown));
  const double offset = value(Unknown::offset, unknown);
  const double answer = value(Unknown::answer, unknown);
  const double fan = value(Unknown::flow, unknown) * beliefs_.labels.fan_m3_per_h;
  const double leak = value(Unknown::leak, unknown);
  const double mist = value(Unknown::mist, unknown) * beliefs_.labels.humidifier_g_per_h;
  const double air_kg = tent_model::kAirDensity * beliefs_.labels.tent_m3;
  const double at_once = value(Unknown::storage, unknown) * air_kg;
  const double holding = value(Unknown::held, unknown) * air_kg * 3600 / kHolds;  // kg/h
  const double holds = part_in(kHolds), mixes = part_in(kMixes);
  const double lags = part_in(value(Unknown::lag, unknown));
  const double room_lag = value(Unknown::room_lag, unknown) / kStepSeconds;
  const auto whole_lag = static_cast<std::size_t>(room_lag);
  const double rest_lag = room_lag - static_cast<double>(whole_lag);
  // The room's air is what its probe will say a lag later.
  const auto room = [&](std::size_t i) {
    const Known& one = steps_[std::min(i + whole_lag, n - 1)];
    const Known& other = steps_[std::min(i + whole_lag + 1, n - 1)];
    return (1 - rest_lag) * one.room_g_per_kg + rest_lag * other.room_g_per_kg;
  };
  double air = 0, held = 0, mixed = 0, said = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const Known& step = steps_[i];
    if (i == 0 || (step.seen && !steps_[i - 1].seen))
      air = held = mixed = said = step.g_per_kg - offset * step.g_per_kg_per_percent;
    course.said_g_per_kg[i] = said + offset * step.g_per_kg_per_percent;
    const double leaks = leak + kLeakPerRootKelvin * std::sqrt(std::abs(step.warmer_k));
    const double flow = tent_model::kAirDensity * std::hypot(fan * step.fan_part, leaks);
    const double vpd = step.saturation_kpa - tent_model::vapour_kpa(air);
    course.source_g_per_h[i] *= std::max(0.2, 1 + answer * (vpd - 1));
    const double gains = course.source_g_per_h[i] + mist * step.mists -
                         drier.step(step.dries, {step.celsius, air}, vpd);
    const double settled = (flow * room(i) + holding * held + gains) / (flow + holding);
    air += -std::expm1(-(flow + holding) * kStepHours / at_once) * (settled - air);
    held += holds * (air - held);
    mixed += mixes * (air - mixed);
    said += lags * (mixed - said);
  }
  return course;
}

std::vector<double> Balance::residuals(const std::vector<double>& unknown) const {
  const Course course = follow(unknown);
  std::vector<double> result;
  for (const Window& row : air_) {
    double sum = 0;
    for (std::size_t i = row.from; i < row.to; ++i) sum += course.said_g_per_kg[i];
    result.push_back((sum / kWindow - row.target) / row.spread);
  }
  for (const Window& row : water_) {
    double sum = 0;
    for (std::size_t i = row.from; i < row.to; ++i) sum += course.source_g_per_h[i];
    result.push_back((sum * kStepHours - row.target) / row.spread);
  }
  const std::size_t tested = result.size();
  for (const Window& row : tested_) {
    double sum = 0;
    for (std::size_t i = row.from; i < row.to; ++i) sum += course.said_g_per_kg[i];
    result.push_back((sum / kGlance - row.target) / row.spread);
  }
  for (const Answer& answer : answers_)
    straighten(answer.rows,
               [&](std::size_t i) -> double& { return result[tested + answer.first + i]; });
  for (std::size_t k = 0; k < kUnknowns; ++k) result.push_back(unknown[k] / priors_[k].spread);
  for (std::size_t k = 0, stretch = 0; k < knots_; ++k) {
    const bool first = stretch < first_knots_.size() && first_knots_[stretch] == k;
    const double* knot = unknown.data() + kUnknowns + k;
    if (first) ++stretch;
    result.push_back(first ? (knot[0] - typical_g_per_h_) / (2 * typical_g_per_h_)
                           : (knot[0] - knot[-1]) / (kWander * typical_g_per_h_));
  }
  return result;
}

// A knot moves the air for an hour to each side of it and a little longer: every fourth knot can be
// moved at once, and what moves is the nearest one's doing.
void Balance::slopes_of_knots(const std::vector<double>& unknown, Matrix& slope) const {
  const Course here = follow(unknown);
  const double nudge = 0.02 * typical_g_per_h_;
  for (std::size_t colour = 0; colour < kColours; ++colour) {
    std::vector<double> moved = unknown;
    for (std::size_t k = colour; k < knots_; k += kColours) moved[kUnknowns + k] += nudge;
    const Course there = follow(moved);
    const auto add = [&](std::size_t i, std::size_t step, double change) {
      const std::size_t newest = steps_[step].knot + 1;
      const std::size_t back = (newest + kColours - colour) % kColours;
      if (back <= newest) slope.at(i, kUnknowns + newest - back) += change / nudge;
    };
    std::size_t i = 0;
    for (const Window& row : air_) {
      for (std::size_t s = row.from; s < row.to; ++s)
        add(i, s, (there.said_g_per_kg[s] - here.said_g_per_kg[s]) / kWindow / row.spread);
      ++i;
    }
    for (const Window& row : water_) {
      for (std::size_t s = row.from; s < row.to; ++s)
        add(i, s, (there.source_g_per_h[s] - here.source_g_per_h[s]) * kStepHours / row.spread);
      ++i;
    }
    for (const Window& row : tested_) {
      for (std::size_t s = row.from; s < row.to; ++s)
        add(i, s, (there.said_g_per_kg[s] - here.said_g_per_kg[s]) / kGlance / row.spread);
      ++i;
    }
  }
  for (const Answer& answer : answers_)
    for (std::size_t k = kUnknowns; k < width(); ++k)
      straighten(answer.rows, [&](std::size_t row) -> double& {
        return slope.at(air_.size() + water_.size() + answer.first + row, k);
      });
  std::size_t i = air_.size() + water_.size() + tested_.size();
  i += kUnknowns;  // their priors do not know the knots
  for (std::size_t k = 0, stretch = 0; k < knots_; ++k, ++i) {
    if (stretch < first_knots_.size() && first_knots_[stretch] == k) {
      ++stretch;
      slope.at(i, kUnknowns + k) = 1 / (2 * typical_g_per_h_);
    } else {
      slope.at(i, kUnknowns + k) = 1 / (kWander * typical_g_per_h_);
      slope.at(i, kUnknowns + k - 1) = -1 / (kWander * typical_g_per_h_);
    }
  }
}

Linearised Balance::linearise(const std::vector<double>& unknown) const {
  Linearised result{residuals(unknown), {}};
  result.slope = Matrix(result.residual.size(), width());
  slopes_of_knots(unknown, result.slope);
  for (std::size_t k = 0; k < kUnknowns; ++k) {
    const double nudge = 1e-3 * priors_[k].spread;
    std::vector<double> moved = unknown;
    moved[k] += nudge;
    const std::vector<double> there = residuals(moved);
    for (std::size_t i = 0; i < there.size(); ++i)
      result.slope.at(i, k) = (there[i] - result.residual[i]) / nudge;
  }
  return result;
}

void Balance::widen(const std::vector<double>& residual) {
  const auto by_residuals = [&](std::vector<Window>& rows, std::size_t first) {
    std::vector<double> sizes;
    for (std::size_t i = 0; i < rows.size(); ++i) sizes.push_back(std::abs(residual[first + i]));
    if (sizes.empty()) return;
    const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
    std::nth_element(sizes.begin(), middle, sizes.end());
    const double scale = std::max(1.0, *middle / 0.6745);
    for (Window& row : rows) row.spread *= scale;
  };
  by_residuals(air_, 0);
  by_residuals(tested_, air_.size() + water_.size());
}

Balance::Vapour Balance::vapour(const std::vector<double>& unknown) const {
  const Course course = follow(unknown);
  const std::vector<double> all = sources(unknown);
  std::vector<double> still = unknown;
  for (const Unknown which : {Unknown::flood, Unknown::splash})
    still[at(which)] = -1e3;  // its exponential is nothing
  const std::vector<double> without = sources(still);
  Vapour result;
  double flood = 0;
  for (std::size_t i = 0; i < steps_.size(); ++i) {
    const double g = course.source_g_per_h[i] * kStepHours;
    (steps_[i].lit ? result.lit_g_per_h : result.dark_g_per_h) += g;
    if (all[i] > 0) flood += g * (1 - without[i] / all[i]);
  }
  if (hours_lit_ > 0) result.lit_g_per_h /= hours_lit_;
  if (hours_dark_ > 0) result.dark_g_per_h /= hours_dark_;
  if (floods_ > 0) result.flood_ml = flood / floods_;
  return result;
}

}  // namespace neap::identify
