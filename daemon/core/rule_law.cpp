#include "daemon/core/rule_law.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "daemon/core/psychrometrics.h"
#include "daemon/core/reach.h"
#include "daemon/core/room_dryer.h"
#include "daemon/core/tent_observer.h"
#include "daemon/core/venting.h"

namespace neap {
namespace {

// Fan: SIMC on a first-order tent with a lagging probe.
constexpr double kTau = 370;         // s
constexpr double kClosedLoop = 120;  // s
constexpr double kDelay = 60;        // s
constexpr double kLeastGain = 0.15;  // kPa per unit of ln(flow)
constexpr double kNoGain = 0.04;     // venting hardly matters
constexpr double kMostAction = 4;    // |Kc|
constexpr double kDriftFor = 300;    // s, to the least flow
constexpr int kFanDeadBand = 40;     // permille
constexpr double kOffAim = 0.1;      // of the band's width: a fan without speeds switches there
constexpr double kLongestGap = 60;   // s; after a longer one the fan's PI starts afresh
// Aim, in parts of the band's width and kPa.
constexpr Millis kAheadOfMoisture = minutes{2};
constexpr double kRaisedBy = 0.16;
constexpr double kCoolOverLow = 0.25;
constexpr double kAimUnderHigh = 0.08;
// Dehumidifier in the tent, kPa.
constexpr double kNearLow = 0.025;
constexpr double kCeilingOverLow = 0.035;
constexpr double kWellUnderLow = 0.065;
constexpr double kNearHigh = 0.135;
constexpr Millis kStartAfter = seconds{60};
constexpr Millis kStartAfterWhereVentingCan = minutes{4};
constexpr Millis kStopAfter = seconds{20};
// Heat, K under the upper limit.
constexpr double kWarm = 1.5;
constexpr double kWarmWithMist = 0.6;  // mist cools first
constexpr double kTooWarmToDry = 0.8;
constexpr double kOpenedPerKelvin = 0.7;  // of the fan's range
constexpr double kWarmLevel = 0.2;
constexpr double kRoomCooler = 0.3;  // K
// Humidifier.
constexpr double kDipOfPulse = 0.15;  // of the band's width: the probe is too slow to see it all
constexpr double kMistPerKilopascal = 1;
constexpr double kMistIntegral = 520;  // s
constexpr Millis kShortestPulse = seconds{20};

struct Memo : RoomDryer {  // the same fields serve a dehumidifier in the tent
  bool sampled = false;
  bool moistens = false;
  bool raised = false;
  bool misting = false;
  bool hot = false;            // the fan is opened for coolness
  bool ceiling_known = false;  // some fan level keeps the temperature limit
  double ln_flow = 0;
  double fan = 0;  // permille, as wished
  double vpd = 0;
  double aim = 0;
  double gain = 0;
  double ceiling = 0;   // of venting
  double integral = 0;  // of the humidifier's duty
  double owed_s = 0;    // mist
  double duty = 0;
};

constexpr std::array<double Memo::*, 10> kNumbers{
    &Memo::ln_flow, &Memo::fan,      &Memo::vpd,    &Memo::aim,  &Memo::gain,
    &Memo::ceiling, &Memo::integral, &Memo::owed_s, &Memo::duty, &Memo::need};
constexpr std::array<bool Memo::*, 8> kFlags{&Memo::sampled,  &Memo::dehumidify,   &Memo::suspect,
                                             &Memo::moistens, &Memo::raised,       &Memo::hot,
                                             &Memo::misting,  &Memo::ceiling_known};
constexpr std::array<Instant Memo::*, 2> kInstants{&Memo::suspected, &Memo::changed};
constexpr std::size_t kFlagsAt = kNumbers.size();
static_assert(kFlagsAt + kFlags.size() <= kLawNumbers);
static_assert(kInstants.size() <= kLawTicks);

Memo load(const LawMemory& memory) {
  Memo memo;
  std::size_t at = 0;
  for (const auto member : kNumbers) memo.*member = memory.numbers[at++];
  for (const auto member : kFlags) memo.*member = memory.numbers[at++] > 0;
  std::size_t tick = 0;
  for (const auto member : kInstants) memo.*member = instant(Millis{memory.ticks[tick++]});
  return memo;
}

void store(const Memo& memo, LawMemory& memory) {
  std::size_t at = 0;
  for (const auto member : kNumbers) memory.numbers[at++] = memo.*member;
  for (const auto member : kFlags) memory.numbers[at++] = memo.*member ? 1 : 0;
  std::size_t tick = 0;
  for (const auto member : kInstants) memory.ticks[tick++] = tick_ms(memo.*member);
}

// --- the tent now
// -----------------------------------------------------------------------------------

double middle(const Band& band) { return (band.low.value + band.high.value) / 2; }
double width(const Band& band) { return band.high.value - band.low.value; }

bool dries_tent(const ClimateView& view) {
  return view.dehumidifier.fitted && view.beliefs.dehumidifier_place == DehumidifierPlace::tent;
}
bool runs(const LegalMove& device) { return device.fitted && device.level != kStopped; }

// dVPD / d ln(flow) at the flow of now, from the filtered air and the room (venting.h).
double gain_now(const ClimateView& view, const TentEstimate& e) {
  const auto slope = saturation_slope(Celsius{e.seen_c});
  if (!slope) return kLeastGain;
  const double over_room = e.seen_c - e.room.celsius;
  const double carried = tent_model::kAirDensity * tent_model::kAirHeat / 3600 *
                         tent_model::air_flow_m3_per_h(view.beliefs, view.fan.level, over_room);
  const double kappa = carried / (carried + tent_model::kWallWattPerKelvin);
  const double e_tent = tent_model::saturation_kpa(e.seen_c) * e.seen_percent / 100;
  return e_tent - tent_model::vapour_kpa(e.room.g_per_kg) - kappa * *slope * over_room;
}

double aim_of(const ClimateView& view, const TentEstimate& e, bool& raised) {
  const KnownFuture& future = view.future;
  const auto soon = [&](bool coming, Instant then) {
    return coming && then > view.now && then - view.now <= kAheadOfMoisture;
  };
  raised = future.flood_now || soon(future.flood_coming, future.next_flood) ||
           (!future.edge_is_lights_on && soon(future.light_edge_coming, future.next_light_edge));
  const Band& band = view.targets.band;
  const double aim = middle(band) + (raised ? kRaisedBy * width(band) : 0);
  const double kept = std::min(aim, std::max(middle(band), band.high.value - kAimUnderHigh));
  // Mist cools: near the limit of warmth the aim sinks towards the moist end of the band.
  const double warm = e.seen_c - (view.targets.air_highest.value - kWarm);
  if (!view.humidifier.fitted || warm <= 0) return kept;
  const double moist = band.low.value + kCoolOverLow * width(band);
  return kept + std::min(warm, 1.0) * (moist - kept);
}

// --- fan
// --------------------------------------------------------------------------------------------

double fan_flow(const ClimateView& view, Permille level) {
  return tent_model::air_flow_m3_per_h(view.beliefs, level, 0);
}
// The level at which the fan moves so much air, leakage included.
Permille level_of(const ClimateView& view, double flow) {
  const double least = least_venting(view.fan).value;
  const double most = most_venting(view.fan).value;
  double low = least;
  double high = most;
  for (int i = 0; i < 10; ++i) {
    const double at = (low + high) / 2;
    const bool enough = fan_flow(view, Permille{static_cast<int>(std::lround(at))}) >= flow;
    (enough ? high : low) = at;
  }
  return Permille{static_cast<int>(std::lround(high))};
}

// Opened in proportion to the heat, where the room is cooler.
double opened_for_heat(const ClimateView& view, const TentEstimate& e) {
  const double from = view.humidifier.fitted ? kWarmWithMist : kWarm;
  const double warm = e.seen_c - (view.targets.air_highest.value - from);
  if (warm <= 0 || e.room.celsius > e.seen_c - kRoomCooler) return 0;
  return 1000 * (kWarmLevel + kOpenedPerKelvin * warm);
}

// Where the fan makes the air as humid as it can; where venting hardly matters, gently.
Permille most_humid(const ClimateView& view, const Memo& memo) {
  return memo.gain > -kNoGain ? least_venting(view.fan) : most_venting(view.fan);
}

void step_ln_flow(const ClimateView& view, double dt_s, double change, Memo& memo) {
  const double least = std::log(fan_flow(view, least_venting(view.fan)));
  const double most = std::log(fan_flow(view, most_venting(view.fan)));
  const double was = memo.ln_flow;
  const int off = std::abs(view.fan.level.value - static_cast<int>(memo.fan));
  if (off > kFanDeadBand || dt_s > kLongestGap)
    memo.ln_flow = std::log(fan_flow(view, view.fan.level));
  if (std::abs(memo.gain) < kNoGain) {
    memo.ln_flow += (1 - std::exp(-dt_s / kDriftFor)) * (least - memo.ln_flow);
  } else if (dt_s <= kLongestGap) {
    const double gain = std::copysign(std::max(kLeastGain, std::abs(memo.gain)), memo.gain);
    const double action =
        std::clamp(kTau / (gain * (kClosedLoop + kDelay)), -kMostAction, kMostAction);
    const double integral_s = std::min(kTau, 4 * (kClosedLoop + kDelay));
    memo.ln_flow += action * ((memo.aim - memo.vpd) * dt_s / integral_s - change);
  }
  memo.ln_flow = std::clamp(memo.ln_flow, least, std::max(least, most));
  // At its limit and out of the band all the same, it waits there for the band: noise alone would
  // keep it moving.
  const Band& band = view.targets.band;
  const double sign = memo.gain > 0 ? 1 : -1;
  const double out = memo.vpd < band.low.value ? 1 : memo.vpd > band.high.value ? -1 : 0;
  if (was >= most && sign * out > 0) memo.ln_flow = std::max(least, most);
  if (was <= least && sign * out < 0) memo.ln_flow = least;
}

void decide_variable_fan(const ClimateView& view, const TentEstimate& e, double dt_s, double change,
                         Memo& memo) {
  // The humidifier works first: while it does, the fan stays where the air is most humid.
  const bool mists = memo.duty > 0;
  if (!mists) step_ln_flow(view, dt_s, change, memo);
  double level = (mists ? most_humid(view, memo) : level_of(view, std::exp(memo.ln_flow))).value;
  const double open = opened_for_heat(view, e);
  memo.hot = open > level;
  level = std::clamp<double>(std::max(level, open), least_venting(view.fan).value,
                             most_venting(view.fan).value);
  for (const Permille end : {least_venting(view.fan), most_venting(view.fan)})
    if (std::abs(level - end.value) < kFanDeadBand / 2.0) level = end.value;
  const bool at_end =
      level == least_venting(view.fan).value || level == most_venting(view.fan).value;
  if (at_end || std::abs(level - memo.fan) >= kFanDeadBand) memo.fan = level;
}

void decide_plain_fan(const ClimateView& view, const TentEstimate& e, Memo& memo) {
  const double off = kOffAim * width(view.targets.band);
  const double sign = memo.moistens ? -1 : 1;
  const double error = sign * (memo.aim - memo.vpd);  // positive: vent
  if (error > off) memo.fan = kRunning.value;
  if (error < -off) memo.fan = kStopped.value;
  memo.hot = opened_for_heat(view, e) > 0;
  if (memo.hot) memo.fan = kRunning.value;
}

// --- dehumidifier in the tent
// -----------------------------------------------------------------------

void decide_tent_dryer(const ClimateView& view, const TentEstimate& e, Memo& memo) {
  const Band& band = view.targets.band;
  const bool on = runs(view.dehumidifier);
  if (on != memo.dehumidify) memo.suspect = false;
  memo.dehumidify = on;
  const bool cannot = memo.ceiling_known && memo.ceiling < band.low.value + kCeilingOverLow;
  const bool warm = e.seen_c >= view.targets.air_highest.value - kTooWarmToDry;
  const bool change =
      on ? warm || memo.vpd > band.high.value - kNearHigh || (memo.vpd > middle(band) && !cannot)
         : !warm && memo.duty == 0 &&
               ((memo.vpd < band.low.value + kNearLow && cannot) ||
                memo.vpd < band.low.value - kWellUnderLow);
  if (change && !memo.suspect) memo.suspected = view.now;
  memo.suspect = change;
  const Millis delay = on ? kStopAfter : cannot ? kStartAfter : kStartAfterWhereVentingCan;
  if (!change || view.now - memo.suspected < delay) return;
  if (!(on ? view.dehumidifier.may_stop : view.dehumidifier.may_start)) return;
  memo.dehumidify = !on;
  memo.changed = view.now;
  memo.suspect = false;
}

// --- humidifier
// -------------------------------------------------------------------------------------

// The duty in pulses as short as the device may make, since each one shows in so little air: a
// pulse begins when so much time is owed, and ends when it is paid.
void pulse(const ClimateView& view, double dt_s, Memo& memo) {
  if (memo.duty == 0) {
    memo.owed_s = 0;
    memo.misting = false;
    return;
  }
  const Millis shortest = std::max(kShortestPulse, view.humidifier.min_on);
  const double shortest_s = static_cast<double>(shortest.count()) / 1000;
  const double paid = runs(view.humidifier) ? 1 : 0;
  memo.owed_s += (memo.duty - paid) * std::min(dt_s, kLongestGap);
  if (memo.owed_s >= shortest_s * (1 - memo.duty)) memo.misting = true;
  if (memo.owed_s <= 0 && memo.duty < 1) memo.misting = false;
}

void decide_humidifier(const ClimateView& view, double dt_s, Memo& memo) {
  const Band& band = view.targets.band;
  const double aim = std::min(memo.aim + kDipOfPulse * width(band),
                              std::max(memo.aim, band.high.value - kAimUnderHigh));
  const double over_aim = memo.vpd - aim;
  const bool dried = dries_tent(view) && (runs(view.dehumidifier) || memo.dehumidify);
  const bool may = view.humidifier.fitted && !dried &&

                   (memo.duty > 0 || !view.fan.fitted || view.fan.level == most_humid(view, memo));
  if (!may) {
    memo.integral = memo.duty = 0;
  } else {
    memo.integral = std::clamp(
        memo.integral + kMistPerKilopascal * over_aim * std::min(dt_s, kLongestGap) / kMistIntegral,
        0.0, 1.0);
    memo.duty = memo.vpd < band.low.value
                    ? 0
                    : std::clamp(memo.integral + kMistPerKilopascal * over_aim, 0.0, 1.0);
  }
  pulse(view, dt_s, memo);
}

// --- one sample
// -------------------------------------------------------------------------------------

void take_sample(const ClimateView& view, const TentEstimate& e, double dt_s, Memo& memo) {
  const double vpd = tent_model::vpd_kpa(e.air) + leaf_shift_kpa(view);
  const double change = memo.sampled ? vpd - memo.vpd : 0;
  if (!memo.sampled) {
    memo.fan = view.fan.level.value;
    memo.ln_flow = std::log(fan_flow(view, view.fan.level));
    memo.dehumidify = runs(view.dehumidifier);
  }
  memo.sampled = true;
  memo.vpd = vpd;
  memo.gain = gain_now(view, e);
  memo.moistens = venting_moistens(memo.gain, memo.moistens);
  memo.aim = aim_of(view, e, memo.raised);
  const Span span = reachable(view, believed(view.beliefs, e.learnt), e, false, false);
  memo.ceiling = span.greatest;
  memo.ceiling_known = span.any;
  if (dries_tent(view))
    decide_tent_dryer(view, e, memo);
  else if (view.dehumidifier.fitted)
    decide_room_dryer(view, e, leaf_shift_kpa(view), memo);
  decide_humidifier(view, dt_s, memo);
  if (!view.fan.fitted) return;
  if (view.fan.variable)
    decide_variable_fan(view, e, dt_s, change, memo);
  else
    decide_plain_fan(view, e, memo);
}

// --- the wishes
// -------------------------------------------------------------------------------------

Because stands(const ClimateView& view, const Memo& memo) {
  const Band& band = view.targets.band;
  const Reason reason = memo.vpd < band.low.value    ? Reason::vpd_below_band
                        : memo.vpd > band.high.value ? Reason::vpd_above_band
                                                     : Reason::vpd_in_band;
  return because(reason, memo.vpd, band.low.value, band.high.value);
}

Wish fan_wish(const ClimateView& view, const Memo& memo) {
  const Permille wished{static_cast<int>(memo.fan)};
  const Permille level = view.fan.variable
                             ? std::clamp(wished, least_venting(view.fan), most_venting(view.fan))
                             : std::min(wished, most_venting(view.fan));
  const auto say = [&](Reason reason) {
    return Wish{true, level, because(reason, memo.vpd, memo.aim)};
  };
  if (memo.hot)
    return {true, level,
            because(Reason::rule_fan_cools, view.canopy.temperature->value,
                    view.targets.air_highest.value)};
  if (memo.duty > 0) return say(Reason::rule_fan_leaves_to_mist);
  if (memo.raised) return say(Reason::rule_aim_raised);
  if (std::abs(memo.gain) < kNoGain) return say(Reason::rule_venting_matters_little);
  return say(memo.gain > 0 ? Reason::rule_venting_dries : Reason::rule_venting_moistens);
}

Wish dehumidifier_wish(const ClimateView& view, const Memo& memo) {
  const Permille level = memo.dehumidify ? kRunning : kStopped;
  if (!dries_tent(view)) return room_dryer_wish(memo);
  const double low = view.targets.band.low.value;
  if (memo.dehumidify && memo.ceiling < low + kCeilingOverLow)
    return {true, level, because(Reason::venting_too_weak, memo.ceiling, low)};
  return {true, level, stands(view, memo)};
}

Wish humidifier_wish(const ClimateView& view, const Memo& memo) {
  if (memo.duty <= 0) return {true, kStopped, stands(view, memo)};
  return {true, memo.misting ? kRunning : kStopped,
          because(Reason::rule_mist, memo.vpd, memo.aim, std::round(memo.duty * 100))};
}

}  // namespace

ClimateAsk RuleLaw::decide(const ClimateView& view, LawMemory& memory) const {
  TentEstimate estimate = load_estimate(memory);
  Memo memo = load(memory);
  if (view.new_sample || !memo.sampled) {
    const Millis since = view.now - estimate.sampled;
    const double dt_s = estimate.running ? static_cast<double>(since.count()) / 1000 : 0;
    observe(view, estimate, ProbeLag::usual);
    if (estimate.running) take_sample(view, estimate, dt_s, memo);
    store_estimate(estimate, memory);
    store(memo, memory);
  }
  ClimateAsk ask;
  if (!memo.sampled) return ask;
  ask.fan = fan_wish(view, memo);
  ask.dehumidifier = dehumidifier_wish(view, memo);
  ask.humidifier = humidifier_wish(view, memo);
  return ask;
}

}  // namespace neap
