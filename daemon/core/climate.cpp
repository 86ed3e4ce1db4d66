#include "daemon/core/climate.h"

#include <algorithm>
#include <optional>

#include "daemon/core/device_doubt.h"
#include "daemon/core/diagnosis.h"
#include "daemon/core/fixed_fan_law.h"
#include "daemon/core/predictive_law.h"
#include "daemon/core/rule_law.h"
#include "daemon/core/tent_observer.h"
#include "daemon/core/two_position_law.h"
#include "daemon/core/venting.h"

namespace neap {
namespace {

// How far a value must come back inside its limit before the limit lets go: twice a usual sensor's
// noise, so that no device chatters on it (common practice, no source).
constexpr double kTemperatureRelease = 0.5;
constexpr double kHumidityRelease = 2;
constexpr double kDewPointRelease = 0.5;
// Coldest surface over the dew point: the wall lies half way between tent and room air, as heat
// passes about equally well on its two sides; without a room sensor 2 K under the canopy's air is
// assumed (no source).
constexpr double kWallBetween = 0.5;
constexpr double kWallUnderAir = 2;

// Limits in force, kept in run_climate()'s part of the memory.
struct Guard {
  bool too_warm = false;
  bool too_cold = false;
  bool too_humid = false;
  bool condensing = false;
  bool moistens = false;
};

enum Flag : std::int64_t {
  kTooWarm = 1 << 0,
  kTooCold = 1 << 1,
  kTooHumid = 1 << 2,
  kCondensing = 1 << 3,
  kMoistens = 1 << 4,
};
constexpr std::size_t kFlagsAt = kLawTicks + kObserverTicks;

Guard load(const LawMemory& memory) {
  const auto has = [&](Flag flag) { return (memory.ticks[kFlagsAt] & flag) != 0; };
  Guard guard;
  guard.too_warm = has(kTooWarm);
  guard.too_cold = has(kTooCold);
  guard.too_humid = has(kTooHumid);
  guard.condensing = has(kCondensing);
  guard.moistens = has(kMoistens);
  return guard;
}

void store(const Guard& guard, LawMemory& memory) {
  std::int64_t flags = 0;
  const auto put = [&](bool on, Flag flag) {
    if (on) flags |= flag;
  };
  put(guard.too_warm, kTooWarm);
  put(guard.too_cold, kTooCold);
  put(guard.too_humid, kTooHumid);
  put(guard.condensing, kCondensing);
  put(guard.moistens, kMoistens);
  memory.ticks[kFlagsAt] = flags;
}

// --- limits
// -----------------------------------------------------------------------------------------

bool over(double value, double limit, double release, bool was) {
  return value > (was ? limit - release : limit);
}

// Humidity limits and the lower temperature limit need both readings: with one missing the
// fall-back keeps the air moving, and only heat may ask for more of it.
void watch_limits(const Plan& plan, const ClimateView& view, Guard& guard) {
  const ClimateTargets& targets = view.targets;
  const Air& tent = view.canopy;
  const bool complete = tent.vpd.usable();
  guard.too_warm = tent.temperature && over(tent.temperature->value, targets.air_highest.value,
                                            kTemperatureRelease, guard.too_warm);
  guard.too_cold = complete && over(-tent.temperature->value, -targets.air_lowest.value,
                                    kTemperatureRelease, guard.too_cold);
  guard.too_humid = complete && over(tent.humidity->value, targets.humidity_ceiling.value,
                                     kHumidityRelease, guard.too_humid);
  const std::optional<Celsius> margin = dew_point_margin(view.canopy, view.room);
  guard.condensing = margin && over(-margin->value, -plan.climate.dew_point_margin.value,
                                    kDewPointRelease, guard.condensing);
  guard.moistens = venting_moistens(venting_gain(view), guard.moistens);
}

Because humidity_reason(const ClimateView& view, const Guard& guard) {
  if (guard.too_humid)
    return because(Reason::humidity_over_ceiling, view.canopy.humidity->value,
                   view.targets.humidity_ceiling.value);
  return because(Reason::condensation_near, dew_point_margin(view.canopy, view.room)->value);
}

// Later lines win: heat harms within the hour, wet leaves overnight, cool air least of all.
void apply_limits(const ClimateView& view, const Guard& guard, ClimateAsk& ask) {
  if (guard.too_cold)
    ask.fan = {true, least_venting(view.fan),
               because(Reason::air_too_cold, view.canopy.temperature->value,
                       view.targets.air_lowest.value)};
  if (guard.too_humid || guard.condensing) {
    const Because why = humidity_reason(view, guard);
    ask.fan = {true, guard.moistens ? least_venting(view.fan) : most_venting(view.fan), why};
    ask.dehumidifier = {true, kRunning, why};
    ask.humidifier = {true, kStopped, why};
  }
  if (guard.too_warm) {
    const Because why = because(Reason::air_too_warm, view.canopy.temperature->value,
                                view.targets.air_highest.value);
    if (room_would_cool(view)) ask.fan = {true, most_venting(view.fan), why};
    ask.dehumidifier = {true, kStopped, why};
  }
}

ClimateAsk fall_back(const Plan& plan) {
  const Because why = because(Reason::no_canopy_reading);
  ClimateAsk ask;
  if (const auto& fan = plan.outputs[Output::exhaust_fan]) ask.fan = {true, fan->fallback, why};
  ask.dehumidifier = {true, kStopped, why};
  ask.humidifier = {true, kStopped, why};
  ask.binding = Binding::no_reading;
  ask.diagnosis = why;
  return ask;
}

// What is known of the tent belongs to the tent and stays when the law changes.
void start_afresh(const ClimateLaw& law, LawMemory& memory) {
  const LawMemory before = memory;
  memory = {};
  memory.law = law.id();
  store_estimate(load_estimate(before), memory);
  carry_doubts(before, memory);
}

// For laws that do not observe; for one that has, this sample adds nothing.
void follow_tent(const ClimateView& view, LawMemory& memory) {
  TentEstimate estimate = load_estimate(memory);
  if (!view.new_sample && estimate.running) return;
  observe(view, estimate, ProbeLag::usual);
  store_estimate(estimate, memory);
}

void push(const LegalMove& move, Output output, const Wish& wish, Demands& demands) {
  if (!move.fitted || !wish.wanted) return;
  demands.push({output, wish.level, Precedence::loop, wish.because});
}

}  // namespace

std::optional<Celsius> dew_point_margin(const Air& tent, const Air& room) {
  if (!tent.temperature || !tent.dew_point) return {};
  const Celsius wall =
      room.temperature ? *room.temperature + (*tent.temperature - *room.temperature) * kWallBetween
                       : *tent.temperature - Celsius{kWallUnderAir};
  return wall - *tent.dew_point;
}

const Reading<Kilopascal>& controlled_vpd(const ClimateView& view) {
  return view.targets.band_of == BandOf::leaf ? view.canopy.leaf_vpd : view.canopy.vpd;
}

double leaf_shift_kpa(const ClimateView& view) {
  if (view.targets.band_of == BandOf::air || !view.canopy.leaf_vpd || !view.canopy.vpd) return 0;
  return (*view.canopy.leaf_vpd - *view.canopy.vpd).value;
}

const ClimateLaw& law_of(const ClimatePlan& plan) {
  static const TwoPositionLaw two_position;
  static const FixedFanLaw fixed_fan;
  static const PredictiveLaw predictive;
  static const RuleLaw rule;
  switch (plan.law) {
    case LawChoice::two_position:
      return two_position;
    case LawChoice::fixed_fan:
      return fixed_fan;
    case LawChoice::predictive:
      return predictive;
    case LawChoice::rule:
      return rule;
  }
  return two_position;
}

ClimateAsk run_climate(const Plan& plan, const ClimateLaw& law, const ClimateView& view,
                       LawMemory& memory, Demands& demands) {
  if (memory.law != law.id()) start_afresh(law, memory);
  ClimateView seen = view;
  seen.tuning = {plan.climate.hysteresis, plan.climate.drying_delay, plan.climate.fixed_fan_level};

  Guard guard = load(memory);
  watch_limits(plan, seen, guard);
  ClimateAsk ask;
  if (controlled_vpd(seen)) {
    if (seen.new_sample && seen.told) weigh_devices(seen, memory);  // by what the last sample found
    Doubts doubts = standing_doubts(memory);
    if (seen.fan_stands) doubts[Doubt::fan_dead] = true;
    const ClimateView as_is = as_it_is(seen, doubts);
    ask = law.decide(as_is, memory);
    follow_tent(as_is, memory);
    diagnose(as_is, {guard.too_warm, guard.moistens}, memory, ask);
    answer_doubts(seen, doubts, ask);
  } else {
    ask = fall_back(plan);
    forget_diagnosis(memory);
  }
  ask.doubts = standing_doubts(memory);
  apply_limits(seen, guard, ask);
  store(guard, memory);
  ask.condensing = guard.condensing;
  if (guard.condensing)
    ask.condensation =
        because(Reason::condensation_near, dew_point_margin(seen.canopy, seen.room)->value);

  push(view.fan, Output::exhaust_fan, ask.fan, demands);
  push(view.dehumidifier, Output::dehumidifier, ask.dehumidifier, demands);
  push(view.humidifier, Output::humidifier, ask.humidifier, demands);
  return ask;
}

}  // namespace neap
