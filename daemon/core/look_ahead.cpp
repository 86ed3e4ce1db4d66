#include "daemon/core/look_ahead.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "daemon/core/fixed.h"
#include "daemon/core/venting.h"

namespace neap {
namespace {

using tent_model::kAirDensity;
using tent_model::kAirHeat;
using tent_model::kEvaporationWh;
using tent_model::MoistAir;

constexpr double kDrawnInBelow = 0.02;  // kPa
constexpr double kDrawnInAbove = 0.07;
constexpr double kOut = 17, kOutSquared = 10, kOutAtAll = 0.6, kOutAtAllFrom = 0.02;
constexpr double kOffMiddle = 0.05;
constexpr double kWarm = 0.3, kWarmUnderLimit = 1.5;
constexpr double kHot = 25, kHotUnderLimit = 0.4;
constexpr double kCold = 10, kColdOverLimit = 0.3;
constexpr double kEnergy = 0.02, kDryerEnergy = 1.5, kFanEnergy = 0.3, kMistEnergy = 0.3;
constexpr double kFanMove = 0.18, kFanMoveMost = 0.25;
constexpr double kSwitch = 0.5;

constexpr int kNever = kLookAheadSteps;
constexpr std::array kFanGrid{200, 230, 260, 300, 340, 390, 450, 520, 600, 700, 820, 1000};
constexpr int kFanNudge = 30;
constexpr std::array kDuties{0.0, 0.25, 0.4, 0.55, 0.75, 1.0};
constexpr int kLaterSteps = 12;  // 4 min
constexpr double kLongPulse = 1.6;

// e0(T) by its Taylor polynomial of third degree: within 0.01 % over +-6 K, and no exp().
class Saturation {
 public:
  explicit Saturation(double celsius) : at_(celsius) {
    const double from_pole = celsius + 237.3;
    const double g = 17.27 * 237.3 / (from_pole * from_pole);  // d ln e0 / dT
    const double g1 = -2 * g / from_pole;
    const double g2 = 6 * g / (from_pole * from_pole);
    c0_ = tent_model::saturation_kpa(celsius);
    c1_ = c0_ * g;
    c2_ = c0_ * (g * g + g1) / 2;
    c3_ = c0_ * (g * g * g + 3 * g * g1 + g2) / 6;
  }
  double kpa(double celsius) const {
    const double d = celsius - at_;
    return c0_ + d * (c1_ + d * (c2_ + d * c3_));
  }

 private:
  double at_, c0_, c1_, c2_, c3_;
};

// Vapour pressure of a humidity ratio by its tangent: within 0.003 kPa over +-3 g/kg.
struct Tangent {
  double at, value, slope;
  explicit Tangent(double g_per_kg)
      : at(g_per_kg),
        value(tent_model::vapour_kpa(g_per_kg)),
        slope((tent_model::vapour_kpa(g_per_kg + 0.1) - value) / 0.1) {}
  double kpa(double g_per_kg) const { return value + slope * (g_per_kg - at); }
};

// When the dehumidifier changes: at `first` and, for a pulse, back at `second`.
struct DryerPlan {
  int first = kNever;
  int second = kNever;
  bool runs(bool now, int step) const { return now != (step >= first && step < second); }
};
// And what it then takes from the air and gives off, whatever the fan does.
struct DryerCourse {
  std::array<double, kLookAheadSteps> g_per_h{};
  std::array<double, kLookAheadSteps> heat_w{};
  double price = 0;
};
using DryerPlans = FixedVector<DryerPlan, 8>;
using FanLevels = FixedVector<Permille, 18>;

int steps_up(Millis wait) {
  const auto steps = (wait + kLookAheadStep - Millis{1}) / kLookAheadStep;
  return static_cast<int>(std::clamp<std::int64_t>(steps, 0, kNever));
}

DryerPlans dryer_plans(const ClimateView& view) {
  DryerPlans plans;
  plans.push(DryerPlan{});
  const LegalMove& dryer = view.dehumidifier;
  if (!dryer.fitted || view.beliefs.dehumidifier_place == DehumidifierPlace::room) return plans;
  const bool runs = dryer.level != kStopped;
  if (!runs && dryer.ceiling == kStopped) return plans;
  const Millis wait = (runs ? dryer.may_stop_at : dryer.may_start_at) - view.now;
  const int soonest = steps_up(wait);
  const int least = std::max(1, steps_up(runs ? dryer.min_off : dryer.min_on));
  const int longer = static_cast<int>(least * kLongPulse);
  plans.push(DryerPlan{soonest, soonest + least});
  plans.push(DryerPlan{soonest, soonest + longer});
  plans.push(DryerPlan{soonest, kNever});
  plans.push(DryerPlan{std::max(soonest, kLaterSteps), kNever});
  return plans;
}

FanLevels fan_levels(const LegalMove& fan) {
  FanLevels levels;
  if (!fan.fitted) {
    levels.push(kStopped);
    return levels;
  }
  if (!fan.variable) {
    const bool runs = fan.level != kStopped;
    levels.push(fan.level != kStopped ? kRunning : kStopped);
    if (runs ? fan.may_stop : fan.may_start) levels.push(runs ? kStopped : kRunning);
    return levels;
  }
  const Permille least = least_venting(fan);
  const Permille most = most_venting(fan);
  levels.push(std::clamp(fan.level, least, most));
  levels.push(least);
  if (most != least) levels.push(most);
  for (const int level : kFanGrid)
    if (level > least.value && level < most.value) levels.push(Permille{level});
  for (const int level : {fan.level.value - kFanNudge, fan.level.value + kFanNudge})
    if (level > least.value && level < most.value) levels.push(Permille{level});
  return levels;
}

// What does not differ between the combinations.
class RollOut {
 public:
  RollOut(const ClimateView& view, const Beliefs& beliefs, const TentEstimate& estimate,
          const Outlook& ahead)
      : view_(view),
        beliefs_(beliefs),
        estimate_(estimate),
        ahead_(ahead),
        saturation_(estimate.air.celsius),
        tangent_(estimate.air.g_per_kg),
        full_(tent_model::drying_at(beliefs, estimate.air)),
        runs_now_(view.dehumidifier.fitted && view.dehumidifier.level != kStopped),
        in_tent_(beliefs.dehumidifier_place == DehumidifierPlace::tent) {
    const double mass = tent_model::kVapourMassFactor * kAirDensity * beliefs.tent_m3;
    a_ = kLookAheadStepS / 3600 / mass;
    b_ = kLookAheadStepS / 3600 / tent_model::kHeatWhPerKelvin;
    vpd_now_ = tent_model::vpd_kpa(estimate.air);
  }

  // Cost of a combination, or anything above `enough` as soon as it is dearer than that.
  double cost(Permille fan, const DryerCourse& dryer, double duty, double enough,
              double& vpd_at_end) const;
  DryerCourse course(const DryerPlan& plan) const;

 private:
  const ClimateView& view_;
  const Beliefs& beliefs_;
  const TentEstimate& estimate_;
  const Outlook& ahead_;
  Saturation saturation_;
  Tangent tangent_;
  tent_model::Drying full_;
  bool runs_now_, in_tent_;
  double a_ = 0, b_ = 0, vpd_now_ = 0;
};

double price_of_vpd(double vpd, double low, double high) {
  const double half = (high - low) / 2;
  const double off = (vpd - (low + high) / 2) / half;
  const double v = std::max({0.0, low + kDrawnInBelow - vpd, vpd - (high - kDrawnInAbove)});
  return v * (kOut + kOutSquared * v) + kOutAtAll * std::min(1.0, v / kOutAtAllFrom) +
         kOffMiddle * off * off;
}

double price_of_heat(double celsius, const ClimateTargets& targets) {
  const double lowest = targets.air_lowest.value + kColdOverLimit;
  const double warm = targets.air_highest.value - kWarmUnderLimit;
  if (celsius >= lowest && celsius <= warm) return 0;
  const double hot = targets.air_highest.value - kHotUnderLimit;
  return kCold * std::max(0.0, lowest - celsius) + kWarm * std::max(0.0, celsius - warm) +
         kHot * std::max(0.0, celsius - hot);
}

DryerCourse RollOut::course(const DryerPlan& plan) const {
  DryerCourse course;
  if (plan.first < kNever) course.price = kSwitch * kLookAheadSteps;
  if (!in_tent_) return course;
  Dryer dryer{estimate_.run_up, estimate_.appliance_w};
  for (int k = 0; k < kLookAheadSteps; ++k) {
    const bool runs = plan.runs(runs_now_, k);
    dryer.step(runs, full_, kLookAheadStepS);
    course.g_per_h[static_cast<std::size_t>(k)] = full_.g_per_h * dryer.run_up;
    course.heat_w[static_cast<std::size_t>(k)] = dryer.appliance_w;
    course.price += runs ? kEnergy * kDryerEnergy : 0;
  }
  return course;
}

double RollOut::cost(Permille fan, const DryerCourse& dryer, double duty, double enough,
                     double& vpd_at_end) const {
  const double u = fan.value / 1000.0;
  const double warmer = estimate_.air.celsius - estimate_.room.celsius;
  const double flow = kAirDensity * tent_model::air_flow_m3_per_h(beliefs_, fan, warmer);
  const double loss = flow * kAirHeat / 3600 + tent_model::kWallWattPerKelvin;
  const double mist = beliefs_.humidifier_g_per_h * duty;
  const double steady_w = flow * estimate_.room.g_per_kg + mist;
  const double steady_t = loss * estimate_.room.celsius - kEvaporationWh * mist;
  const double less_w = 1 / (1 + a_ * flow);
  const double less_t = 1 / (1 + b_ * loss);
  const double moved = std::abs(u - view_.fan.level.value / 1000.0);
  double sum =
      dryer.price + kLookAheadSteps * (kFanMove * std::min(kFanMoveMost, moved) +
                                       kEnergy * (kFanEnergy * u * u * u + kMistEnergy * duty));
  const double most = enough * kLookAheadSteps;

  MoistAir air = estimate_.air;
  double vpd = vpd_now_;
  for (std::size_t k = 0; k < kLookAheadSteps && sum < most; ++k) {
    const double answer = 1 + tent_model::kAnswerPerKilopascal * (vpd - vpd_now_);
    const double vapour = ahead_.vapour_g_per_h[k] * answer - dryer.g_per_h[k] + steady_w;
    air.g_per_kg = (air.g_per_kg + a_ * vapour) * less_w;
    const double heat = ahead_.heat_w[k] + dryer.heat_w[k] + steady_t;
    air.celsius = (air.celsius + b_ * heat) * less_t;
    vpd = saturation_.kpa(air.celsius) - tangent_.kpa(air.g_per_kg);
    sum += price_of_vpd(vpd, ahead_.low_kpa[k], ahead_.high_kpa[k]) +
           price_of_heat(air.celsius, view_.targets);
  }
  vpd_at_end = vpd;
  return sum / kLookAheadSteps;
}

Band moved_towards(const Band& from, const Band& to, const Band& whole_from, Millis ramp,
                   Millis time) {
  if (to.high <= to.low) return from;
  if (ramp <= Millis{0}) return to;
  const double part = static_cast<double>(time.count()) / static_cast<double>(ramp.count());
  const auto move = [&](Kilopascal a, Kilopascal b, Kilopascal start) {
    const double most = std::abs((b - start).value) * part;
    return a + Kilopascal{std::clamp((b - a).value, -most, most)};
  };
  return {move(from.low, to.low, whole_from.low), move(from.high, to.high, whole_from.high)};
}

}  // namespace

Band band_ahead(const ClimateView& view, Instant at) {
  const ClimateTargets& targets = view.targets;
  const Band& here = targets.day ? targets.band_by_day : targets.band_by_night;
  const Band& there = targets.day ? targets.band_by_night : targets.band_by_day;
  const bool edge = view.future.light_edge_coming && at > view.future.next_light_edge;
  const Instant until = edge ? view.future.next_light_edge : at;
  // No ramp: the band in force is already `here`.
  const Band before = targets.band_ramp > Millis{0}
                          ? moved_towards(targets.band, here, there, targets.band_ramp,
                                          std::max(Millis{0}, until - view.now))
                          : targets.band;
  if (!edge) return before;
  return moved_towards(before, there, here, targets.band_ramp, at - until);
}

Outlook outlook(const ClimateView& view, const TentEstimate& e, double leaf_shift_kpa) {
  Outlook ahead;
  const KnownFuture& future = view.future;
  const auto light = light_step(e.learnt, future.edge_is_lights_on, tent_model::vpd_kpa(e.air));
  const Millis lasts{static_cast<std::int64_t>(e.learnt.flood_lasts_s.value_or(900) * 1000)};
  FloodVapour flood{e.splash, e.wetness};
  for (int k = 0; k < kLookAheadSteps; ++k) {
    const auto at = static_cast<std::size_t>(k);
    const Instant then = view.now + kLookAheadStep * (k + 1);
    const bool in_progress = e.flooding && then < e.flood_started + lasts;
    const bool to_come = future.flood_coming && then > future.next_flood;
    flood.step(in_progress || to_come, kLookAheadStepS);
    ahead.vapour_g_per_h[at] = e.vapour_g_per_h + flood.g_per_h(e.learnt.flood_peak_g_per_h);
    ahead.heat_w[at] = e.heat_w;
    if (light && future.light_edge_coming && then > future.next_light_edge) {
      ahead.vapour_g_per_h[at] += light->vapour_g_per_h;
      ahead.heat_w[at] += light->heat_w;
    }
    ahead.vapour_g_per_h[at] = std::max(0.0, ahead.vapour_g_per_h[at]);
    const Band band = band_ahead(view, then);
    ahead.low_kpa[at] = band.low.value - leaf_shift_kpa;
    ahead.high_kpa[at] = band.high.value - leaf_shift_kpa;
  }
  return ahead;
}

Choice look_ahead(const ClimateView& view, const Beliefs& beliefs, const TentEstimate& e,
                  const Outlook& ahead) {
  const RollOut roll_out{view, beliefs, e, ahead};
  const bool runs = view.dehumidifier.fitted && view.dehumidifier.level != kStopped;
  const FanLevels fans = fan_levels(view.fan);
  Choice best;
  best.cost = std::numeric_limits<double>::max();
  for (const DryerPlan& plan : dryer_plans(view)) {
    const DryerCourse course = roll_out.course(plan);
    const bool dry =
        plan.first == kNever && (!runs || beliefs.dehumidifier_place == DehumidifierPlace::room);
    const std::size_t duties = view.humidifier.fitted && dry ? kDuties.size() : 1;
    for (std::size_t d = 0; d < duties; ++d) {
      for (const Permille fan : fans) {
        double vpd_at_end = 0;
        const double cost = roll_out.cost(fan, course, kDuties[d], best.cost, vpd_at_end);
        if (cost >= best.cost) continue;
        best = {fan, plan.runs(runs, 0), kDuties[d], cost, vpd_at_end, plan.first == 0};
      }
    }
  }
  return best;
}

}  // namespace neap
