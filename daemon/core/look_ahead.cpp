#include "daemon/core/look_ahead.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <utility>

#include "daemon/core/fixed.h"
#include "daemon/core/venting.h"

namespace neap {
namespace {

using tent_model::kAirDensity;
using tent_model::kAirHeat;
using tent_model::kEvaporationWh;
using tent_model::MoistAir;

constexpr double kDrawnInBelow = 0.05;  // kPa
constexpr double kDrawnInAbove = 0.06;
constexpr double kOut = 17;
constexpr double kOutSquared = 10;
constexpr double kOutAtAll = 0.6;
constexpr double kOutAtAllFrom = 0.02;
constexpr double kOffMiddle = 0.15;
constexpr double kWarm = 0.3;
constexpr double kWarmUnderLimit = 1.5;
constexpr double kHot = 25;
constexpr double kHotUnderLimit = 0.4;
constexpr double kCold = 10;
constexpr double kColdOverLimit = 0.3;
constexpr double kDryerEnergy = 1.5;
constexpr double kFanEnergy = 0.3;
constexpr double kMistEnergy = 2;
constexpr double kFanMove = 0.3;
constexpr double kFanMoveMost = 0.25;
constexpr double kThenMove = 0.5;

constexpr int kNever = kLookAheadSteps;
constexpr std::array kFanGrid{200, 230, 260, 300, 340, 390, 450, 520, 600, 700, 820, 1000};
constexpr std::array kThenGrid{260, 390, 600};
constexpr int kFanNudge = 30;
constexpr int kLaterSteps = 12;    // 2 min
constexpr int kMistUnitSteps = 3;  // 30 s
constexpr double kLongPulse = 1.6;
// Of the heat that the observer's air takes up: half a minute of mist cools the air by a kelvin and
// is over before leaves and thin things have answered.
constexpr double kAirAlone = 0.7;

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
// What the dehumidifier and the humidifier then do to the air, whatever the fan does.
struct Course {
  std::array<double, kLookAheadSteps> g_per_h{};
  std::array<double, kLookAheadSteps> heat_w{};
  double price = 0;   // of switches and running, over all steps
  int turn = kNever;  // where another fan level may do better
};
using DryerPlans = FixedVector<DryerPlan, 8>;
using FanLevels = FixedVector<Permille, 18>;
using MistPulses = FixedVector<MistPulse, 10>;

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

// The fan as it may run once quiet hours have begun or ended; as now where they do neither.
LegalMove fan_then(const ClimateView& view) {
  LegalMove fan = view.fan;
  if (view.future.fan_ceiling_coming) fan.ceiling = view.future.fan_ceiling_then;
  return fan;
}

Permille allowed(const LegalMove& fan, Permille level) {
  return std::clamp(level, least_venting(fan), most_venting(fan));
}

// Fan levels to go on with later in the horizon.
FanLevels later_levels(const ClimateView& view, int ceiling_turn) {
  FanLevels levels;
  const LegalMove& fan = view.fan;
  if (!fan.fitted) return levels;
  const Permille least = least_venting(fan);
  const Permille most = ceiling_turn < kNever
                            ? std::max(most_venting(fan), most_venting(fan_then(view)))
                            : most_venting(fan);
  levels.push(least);
  if (most != least) levels.push(most);
  for (const int level : kThenGrid)
    if (level > least.value && level < most.value) levels.push(Permille{level});
  return levels;
}

// What the humidifier may do from now on: go on as it does, stop, or begin a new pulse. Pulses are
// as short as its dwells allow: a tent's air holds a few grams, and one minute of mist crosses it.
MistPulses mist_pulses(const ClimateView& view, const MistPulse& now) {
  MistPulses pulses;
  pulses.push(MistPulse{});
  const LegalMove& mist = view.humidifier;
  if (!mist.fitted || mist.ceiling == kStopped) return pulses;
  if (now.on_steps > 0 && now.into_steps < now.period_steps) {
    pulses.push(now);
    return pulses;
  }
  const int unit = std::max({kMistUnitSteps, steps_up(mist.min_on), steps_up(mist.min_off)});
  if (mist.level == kStopped && !mist.may_start) return pulses;
  for (const MistPulse& pulse : {MistPulse{1, 6}, MistPulse{1, 4}, MistPulse{1, 3}, MistPulse{1, 2},
                                 MistPulse{2, 3}, MistPulse{3, 4}, MistPulse{1, 1}})
    pulses.push(MistPulse{pulse.on_steps * unit, pulse.period_steps * unit, 0});
  return pulses;
}

// Air on its way through the horizon.
struct Going {
  MoistAir air;
  double walls_c = 0;
  double vpd = 0;
  double sum = 0;  // of prices
};

// What a fan level makes of a step.
struct FanStep {
  double steady_w, steady_t, less_w, less_t, price;
};
// A level, as far as its ceiling lets it, before and after quiet hours begin or end.
struct FanCourse {
  Permille level;
  FanStep now, then;
};

// What does not differ between the combinations.
class RollOut {
 public:
  RollOut(const ClimateView& view, const Beliefs& beliefs, const TentEstimate& estimate,
          const Outlook& ahead, const Prices& prices)
      : view_(view),
        beliefs_(beliefs),
        estimate_(estimate),
        ahead_(ahead),
        prices_(prices),
        saturation_(estimate.air.celsius),
        tangent_(estimate.air.g_per_kg),
        full_(tent_model::drying_at(beliefs, estimate.air)),
        runs_now_(view.dehumidifier.fitted && view.dehumidifier.level != kStopped),
        in_tent_(beliefs.dehumidifier_place == DehumidifierPlace::tent) {
    a_ = kLookAheadStepS / 3600 / tent_model::vapour_mass_kg(beliefs);
    b_ = kLookAheadStepS / 3600 / (kAirAlone * tent_model::air_heat_wh_per_kelvin(beliefs));
    c_ = kLookAheadStepS / 3600 / tent_model::kWallsWhPerKelvin;
    vpd_now_ = tent_model::vpd_kpa(estimate.air);
    wet_part_ = view.targets.humidity_ceiling.value / 100;
  }

  Course course(const DryerPlan& plan, const MistPulse& pulse) const;
  FanCourse fan_course(Permille level) const;
  Going start() const { return {estimate_.air, estimate_.walls_c, vpd_now_, 0}; }
  // Goes on until `to` or until dearer than `most`.
  void go(const FanCourse& fan, const Course& course, int from, int to, double most,
          Going& going) const {
    const int turn = std::clamp(ahead_.ceiling_turn, from, to);
    go(fan.now, course, from, turn, most, going);
    go(fan.then, course, turn, to, most, going);
  }

 private:
  FanStep fan_step(Permille fan) const;
  void go(const FanStep& fan, const Course& course, int from, int to, double most,
          Going& going) const;

  const ClimateView& view_;
  const Beliefs& beliefs_;
  const TentEstimate& estimate_;
  const Outlook& ahead_;
  const Prices prices_;
  Saturation saturation_;
  Tangent tangent_;
  tent_model::Drying full_;
  bool runs_now_, in_tent_;
  double a_ = 0, b_ = 0, c_ = 0;  // step over what takes up vapour, heat of air, of walls
  double vpd_now_ = 0;
  double wet_part_ = 1;
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

Course RollOut::course(const DryerPlan& plan, const MistPulse& pulse) const {
  Course course;
  if (in_tent_ && plan.first < kNever) course.price = prices_.start * kLookAheadSteps;
  if (plan.first > 0 && plan.first < kNever)
    course.turn = plan.first;
  else if (plan.second < kNever)
    course.turn = plan.second;
  else if (plan.first == 0)
    course.turn = kLaterSteps;
  else
    course.turn = ahead_.turn;
  Dryer dryer = dryer_of(beliefs_, estimate_);
  for (int k = 0; k < kLookAheadSteps; ++k) {
    const auto at = static_cast<std::size_t>(k);
    if (in_tent_) {
      const bool runs = plan.runs(runs_now_, k);
      dryer.step(runs, full_, kLookAheadStepS);
      course.g_per_h[at] = -dryer.dries_g_per_h;
      course.heat_w[at] = dryer.appliance_w;
      course.price += runs ? prices_.energy * kDryerEnergy : 0;
    }
    if (!pulse.mists(k)) continue;
    course.g_per_h[at] += beliefs_.humidifier_g_per_h;
    course.heat_w[at] -= kEvaporationWh * beliefs_.humidifier_g_per_h;
    course.price += prices_.energy * kMistEnergy;
  }
  return course;
}

FanStep RollOut::fan_step(Permille fan) const {
  const double u = fan.value / 1000.0;
  const double warmer = estimate_.air.celsius - estimate_.room.celsius;
  const double flow = kAirDensity * tent_model::air_flow_m3_per_h(beliefs_, fan, warmer);
  const double carried = flow * kAirHeat / 3600;
  return {flow * estimate_.room.g_per_kg, carried * estimate_.room.celsius, 1 / (1 + a_ * flow),
          1 / (1 + b_ * (carried + tent_model::kInsideWattPerKelvin)),
          prices_.energy * kFanEnergy * u * u * u};
}

FanCourse RollOut::fan_course(Permille level) const {
  const FanStep now = fan_step(allowed(view_.fan, level));
  if (ahead_.ceiling_turn == kNever) return {level, now, now};
  return {level, now, fan_step(allowed(fan_then(view_), level))};
}

void RollOut::go(const FanStep& fan, const Course& course, int from, int to, double most,
                 Going& going) const {
  constexpr double kInside = tent_model::kInsideWattPerKelvin;
  constexpr double kBoth = kInside + tent_model::kOutsideWattPerKelvin;
  const double to_walls = tent_model::kOutsideWattPerKelvin * estimate_.room.celsius;
  MoistAir air = going.air;
  double walls = going.walls_c;
  double vpd = going.vpd;
  double sum = going.sum;
  for (int step = from; step < to && sum < most; ++step) {
    const auto k = static_cast<std::size_t>(step);
    const double answer = tent_model::kAnswerPerKilopascal * (vpd - vpd_now_);
    const double more = ahead_.vapour_g_per_h[k] * answer;  // evaporates at the air's cost
    const double vapour = ahead_.vapour_g_per_h[k] + more + course.g_per_h[k] + fan.steady_w;
    air.g_per_kg = (air.g_per_kg + a_ * vapour) * fan.less_w;
    walls += c_ * (kInside * air.celsius + to_walls - kBoth * walls);
    const double heat = ahead_.heat_w[k] + course.heat_w[k] + fan.steady_t + kInside * walls -
                        kEvaporationWh * more;
    air.celsius = (air.celsius + b_ * heat) * fan.less_t;
    const double saturated = saturation_.kpa(air.celsius);
    vpd = saturated - tangent_.kpa(air.g_per_kg);
    const double low = std::max(ahead_.low_kpa[k], saturated * (1 - wet_part_));
    sum += price_of_vpd(vpd, low, ahead_.high_kpa[k]) + price_of_heat(air.celsius, view_.targets) +
           fan.price;
  }
  going = {air, walls, vpd, sum};
}

// Tries every fan level along a course, and from its turn on a few others.
void try_fans(const RollOut& roll_out, const Course& course, std::span<const FanCourse> fans,
              std::span<const FanCourse> then, Permille level_now, const Choice& with,
              Choice& best) {
  const auto move = [](Permille from, Permille to) {
    const double by = std::abs(to.value - from.value) / 1000.0;
    return kLookAheadSteps * kFanMove * std::min(kFanMoveMost, by);
  };
  const auto take = [&](const FanCourse& fan, const Going& going) {
    if (going.sum >= best.cost) return;
    best = with;
    best.fan = fan.level;
    best.cost = going.sum;
    best.vpd_at_end_kpa = going.vpd;
  };
  for (const FanCourse& fan : fans) {
    Going going = roll_out.start();
    going.sum = course.price + move(level_now, fan.level);
    roll_out.go(fan, course, 0, course.turn, best.cost, going);
    if (going.sum >= best.cost) continue;
    const Going turned = going;
    roll_out.go(fan, course, course.turn, kLookAheadSteps, best.cost, going);
    take(fan, going);
    if (course.turn == kNever) continue;
    for (const FanCourse& other : then) {
      going = turned;
      going.sum += kThenMove * move(fan.level, other.level);
      roll_out.go(other, course, course.turn, kLookAheadSteps, best.cost, going);
      take(fan, going);
    }
  }
}

}  // namespace

Choice look_ahead(const ClimateView& view, const Beliefs& beliefs, const TentEstimate& e,
                  const Outlook& ahead, const MistPulse& pulse_now, const Prices& prices) {
  const RollOut roll_out{view, beliefs, e, ahead, prices};
  const bool in_tent = beliefs.dehumidifier_place == DehumidifierPlace::tent;
  const bool runs = view.dehumidifier.fitted && view.dehumidifier.level != kStopped;
  FixedVector<FanCourse, FanLevels::capacity()> fans;
  FixedVector<FanCourse, FanLevels::capacity()> then;
  for (const Permille level : fan_levels(view.fan)) fans.push(roll_out.fan_course(level));
  for (const Permille level : later_levels(view, ahead.ceiling_turn))
    then.push(roll_out.fan_course(level));
  const MistPulses pulses = mist_pulses(view, pulse_now);
  Choice best;
  best.cost = std::numeric_limits<double>::max();
  for (const DryerPlan& plan : dryer_plans(view)) {
    const bool may_mist = !(in_tent && (runs || plan.first < kNever));
    for (const MistPulse& pulse : pulses) {
      if (pulse.on_steps > 0 && !may_mist) continue;
      Choice with;
      with.dehumidifier = plan.runs(runs, 0);
      with.pulse = pulse;
      try_fans(roll_out, roll_out.course(plan, pulse), {fans.begin(), fans.size()},
               {then.begin(), then.size()}, view.fan.level, with, best);
    }
  }
  best.cost /= kLookAheadSteps;
  return best;
}

}  // namespace neap
