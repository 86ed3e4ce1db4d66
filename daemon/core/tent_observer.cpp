#include "daemon/core/tent_observer.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace neap {
namespace {

using tent_model::Drying;
using tent_model::MoistAir;

// A sample older than this says nothing of the air now: venting renews it in 30 to 90 s.
constexpr Millis kStale = minutes{5};

constexpr double kNoiseAtFirst = 0.017;  // kPa, a good probe's
constexpr double kNoiseWeight = 0.004;   // a sample
constexpr double kNoiseToFilter = 1000;  // s/kPa
constexpr double kNoiseToObserver = 2000;
constexpr double kRoomFilter = 60;  // s

constexpr double kSplashFor = 90;        // s
constexpr double kWetFor = 20 * 60;      // s
constexpr double kRunsUpIn = 150;        // s
constexpr double kRunsDownIn = 40;       // s
constexpr double kApplianceHolds = 180;  // s

constexpr Millis kSettledAfterEdge = minutes{30};
constexpr double kLearnFor = 90 * 60;  // s
constexpr Millis kFloodApartFromEdge = minutes{40};
constexpr double kPeakPart = 0.6;  // of the flood's length
constexpr double kPeakWeight = 0.3;
constexpr double kPeakMost = 600;  // g/h: an open tray of 1.4 m2 with warm, splashing water
constexpr double kLengthWeight = 0.5;

// A room never read, and how fast the idea of one that is read no more follows the tent.
constexpr MoistAir kRoomAtFirst{22, 8.3};   // VPD 1.3 kPa
constexpr double kRoomFollowsIn = 20 * 60;  // s

double part_in(double dt_s, double tau_s) { return 1 - std::exp(-dt_s / tau_s); }

double answer_at(double vpd_kpa) {
  return std::max(0.2, 1 + tent_model::kAnswerPerKilopascal * (vpd_kpa - 1));
}

// --- memory
// -----------------------------------------------------------------------------------------

// Slots are in this order and never move: they are in state files.
constexpr std::array kLearntNumbers{
    &TentLearnt::flood_peak_g_per_h,
    &TentLearnt::drying_scale,
};
constexpr std::array kLearntMaybe{
    &TentLearnt::day_vapour_g_per_h, &TentLearnt::night_vapour_g_per_h, &TentLearnt::day_heat_w,
    &TentLearnt::night_heat_w,       &TentLearnt::flood_lasts_s,
};
constexpr std::array kNumbers{
    &TentEstimate::seen_c,
    &TentEstimate::seen_percent,
    &TentEstimate::vpd_read,
    &TentEstimate::noise_kpa2,
    &TentEstimate::vapour_g_per_h,
    &TentEstimate::heat_w,
    &TentEstimate::splash,
    &TentEstimate::wetness,
    &TentEstimate::run_up,
    &TentEstimate::appliance_w,
    &TentEstimate::vapour_before_flood,
};
constexpr std::array kAirs{&TentEstimate::air, &TentEstimate::room};
constexpr std::array kFlags{
    &TentEstimate::running, &TentEstimate::room_known, &TentEstimate::room_seen,
    &TentEstimate::day,     &TentEstimate::flooding,   &TentEstimate::peak_due,
};
constexpr std::array kInstants{&TentEstimate::sampled, &TentEstimate::edge,
                               &TentEstimate::flood_started};

constexpr std::size_t kLearntAt = kLawNumbers;
constexpr std::size_t kLearntMaybeAt = kLearntAt + kLearntNumbers.size();
constexpr std::size_t kNumbersAt = kLearntMaybeAt + kLearntMaybe.size();
constexpr std::size_t kAirsAt = kNumbersAt + kNumbers.size();
static_assert(kAirsAt + 2 * kAirs.size() <= kLearntAt + kObserverNumbers);
constexpr std::size_t kFlagsTick = kLawTicks;
constexpr std::size_t kInstantsTick = kFlagsTick + 1;
static_assert(kInstantsTick + kInstants.size() <= kLawTicks + kObserverTicks);

// --- one sample
// -------------------------------------------------------------------------------------

double flow_kg_per_h(const ClimateView& view, const TentEstimate& e) {
  return tent_model::kAirDensity *
         tent_model::air_flow_m3_per_h(view.beliefs, view.fan.fitted ? view.fan.level : kStopped,
                                       e.air.celsius - e.room.celsius);
}

bool dries_tent(const ClimateView& view) {
  return view.dehumidifier.fitted && view.dehumidifier.level != kStopped &&
         view.beliefs.dehumidifier_place == DehumidifierPlace::tent;
}

void read_room(const ClimateView& view, double part, TentEstimate& e) {
  const auto read = tent_model::moist_air(view.room);
  e.room_seen = read.has_value();
  if (!read) {
    if (!e.room_known) e.room = kRoomAtFirst;
    return;
  }
  if (!e.room_known) part = 1;
  e.room.celsius += part * (read->celsius - e.room.celsius);
  e.room.g_per_kg += part * (read->g_per_kg - e.room.g_per_kg);
  e.room_known = true;
}

// Sources from nothing but the readings: as if they had been steady.
void guess_sources(const ClimateView& view, TentEstimate& e) {
  const double flow = flow_kg_per_h(view, e);
  const Drying drying = dries_tent(view) ? tent_model::drying_at(view.beliefs, e.air) : Drying{};
  e.vapour_g_per_h = std::max(0.0, flow * (e.air.g_per_kg - e.room.g_per_kg) + drying.g_per_h);
  e.heat_w = (flow * tent_model::kAirHeat / 3600 + tent_model::kWallWattPerKelvin) *
                 (e.air.celsius - e.room.celsius) -
             drying.heat_w;
}

void begin(const ClimateView& view, const MoistAir& read, TentEstimate& e) {
  TentEstimate fresh;
  fresh.learnt = e.learnt;
  fresh.room_known = e.room_known;
  fresh.room = e.room;
  fresh.noise_kpa2 = e.noise_kpa2 > 0 ? e.noise_kpa2 : kNoiseAtFirst * kNoiseAtFirst;
  e = fresh;
  e.seen_c = view.canopy.temperature->value;
  e.seen_percent = view.canopy.humidity->value;
  e.vpd_read = tent_model::vpd_kpa(read);
  e.air = read;
  e.day = view.targets.day;
  e.edge = view.now;
  e.flooding = view.future.flood_now;
  e.flood_started = view.future.flood_started;
  e.splash = e.wetness = e.flooding ? 1 : 0;
  read_room(view, 1, e);
  if (dries_tent(view)) {
    e.run_up = 1;
    e.appliance_w = tent_model::drying_at(believed(view.beliefs, e.learnt), read).heat_w;
  }
  const auto& vapour = e.day ? e.learnt.day_vapour_g_per_h : e.learnt.night_vapour_g_per_h;
  const auto& heat = e.day ? e.learnt.day_heat_w : e.learnt.night_heat_w;
  guess_sources(view, e);
  if (vapour) e.vapour_g_per_h = *vapour * answer_at(e.vpd_read);
  if (heat) e.heat_w = *heat;
}

void follow_light(const ClimateView& view, TentEstimate& e) {
  if (view.targets.day == e.day) return;
  e.day = view.targets.day;
  e.edge = view.now;
  const auto step = light_step(e.learnt, e.day, tent_model::vpd_kpa(e.air));
  if (!step) return;
  e.vapour_g_per_h = std::max(0.0, e.vapour_g_per_h + step->vapour_g_per_h);
  e.heat_w += step->heat_w;
}

// Length of a flood, and the vapour it brings, from its start to its end.
void follow_flood(const ClimateView& view, double dt_s, TentEstimate& e) {
  const bool now = view.future.flood_now;
  TentLearnt& learnt = e.learnt;
  if (now && !e.flooding) {
    e.flood_started = view.now;
    e.vapour_before_flood = e.vapour_g_per_h;
    e.peak_due = view.now - e.edge > kFloodApartFromEdge;
  }
  const double lasted_s = static_cast<double>((view.now - e.flood_started).count()) / 1000;
  FloodVapour vapour{e.splash, e.wetness};
  vapour.step(now, dt_s);
  e.splash = vapour.splash;
  e.wetness = vapour.wetness;
  if (now && e.peak_due && learnt.flood_lasts_s && lasted_s > kPeakPart * *learnt.flood_lasts_s) {
    const double template_part = vapour.g_per_h(1);
    const double found =
        e.vapour_g_per_h - e.vapour_before_flood + vapour.g_per_h(learnt.flood_peak_g_per_h);
    learnt.flood_peak_g_per_h = std::clamp(
        learnt.flood_peak_g_per_h +
            kPeakWeight * (found / std::max(0.3, template_part) - learnt.flood_peak_g_per_h),
        0.0, kPeakMost);
    e.peak_due = false;
  }
  if (!now && e.flooding) {
    const double before = learnt.flood_lasts_s.value_or(lasted_s);
    learnt.flood_lasts_s = before + kLengthWeight * (lasted_s - before);
    e.peak_due = false;
  }
  e.flooding = now;
}

// Filtered readings, as moist air.
MoistAir filtered(const ClimateView& view, double dt_s, TentEstimate& e) {
  const double vpd = tent_model::saturation_kpa(view.canopy.temperature->value) *
                     (1 - view.canopy.humidity->value / 100);
  const double change = vpd - e.vpd_read;
  e.vpd_read = vpd;
  e.noise_kpa2 += kNoiseWeight * (change * change / 2 - e.noise_kpa2);
  const double tau = std::clamp(kNoiseToFilter * std::sqrt(e.noise_kpa2), 15.0, 90.0);
  const double part = part_in(dt_s, tau);
  e.seen_c += part * (view.canopy.temperature->value - e.seen_c);
  e.seen_percent += part * (view.canopy.humidity->value - e.seen_percent);
  const double pressure = tent_model::saturation_kpa(e.seen_c) * e.seen_percent / 100;
  return {e.seen_c, tent_model::g_per_kg(pressure)};
}

void correct(const ClimateView& view, const MoistAir& read, double dt_s, TentEstimate& e) {
  const Beliefs beliefs = believed(view.beliefs, e.learnt);
  const double dt_h = dt_s / 3600;
  const double flow = flow_kg_per_h(view, e);
  const Drying full = tent_model::drying_at(beliefs, e.air);
  Dryer dryer{e.run_up, e.appliance_w};
  dryer.step(dries_tent(view), full, dt_s);
  e.run_up = dryer.run_up;
  e.appliance_w = dryer.appliance_w;
  const bool mists = view.humidifier.fitted && view.humidifier.level != kStopped;
  const double mist = mists ? beliefs.humidifier_g_per_h : 0;
  const FloodVapour flood{e.splash, e.wetness};
  const double vapour = e.vapour_g_per_h + flood.g_per_h(e.learnt.flood_peak_g_per_h) -
                        full.g_per_h * e.run_up + mist;
  const double heat = e.heat_w + e.appliance_w - tent_model::kEvaporationWh * mist;
  const double mass =
      tent_model::kVapourMassFactor * tent_model::kAirDensity * view.beliefs.tent_m3;
  const double loss = flow * tent_model::kAirHeat / 3600 + tent_model::kWallWattPerKelvin;
  const double a = dt_h / mass;
  const double b = dt_h / tent_model::kHeatWhPerKelvin;
  e.air.g_per_kg = (e.air.g_per_kg + a * (vapour + flow * e.room.g_per_kg)) / (1 + a * flow);
  e.air.celsius = (e.air.celsius + b * (heat + loss * e.room.celsius)) / (1 + b * loss);

  const double tau = std::clamp(60 + kNoiseToObserver * std::sqrt(e.noise_kpa2), 70.0, 220.0);
  const double p = std::exp(-dt_s / tau);
  const double w_off = read.g_per_kg - e.air.g_per_kg;
  const double t_off = read.celsius - e.air.celsius;
  e.air.g_per_kg += (1 - p * p) * w_off;
  e.air.celsius += (1 - p * p) * t_off;
  e.vapour_g_per_h += (1 - p) * (1 - p) / a * w_off;
  e.heat_w += (1 - p) * (1 - p) / b * t_off;
}

void approach(std::optional<double>& learnt, double value, double part) {
  learnt = learnt ? *learnt + part * (value - *learnt) : value;
}

void learn_sources(const ClimateView& view, double dt_s, TentEstimate& e) {
  if (!e.room_seen || view.now - e.edge < kSettledAfterEdge) return;
  const double part = part_in(dt_s, kLearnFor);
  const double vapour = e.vapour_g_per_h / answer_at(tent_model::vpd_kpa(e.air));
  approach(e.day ? e.learnt.day_vapour_g_per_h : e.learnt.night_vapour_g_per_h, vapour, part);
  approach(e.day ? e.learnt.day_heat_w : e.learnt.night_heat_w, e.heat_w, part);
}

// A room that is read no more: what the tent gives off is better known than the room, so the room
// moves until the sources are what they were.
void carry_room(const ClimateView& view, double dt_s, TentEstimate& e) {
  const auto& vapour = e.day ? e.learnt.day_vapour_g_per_h : e.learnt.night_vapour_g_per_h;
  const auto& heat = e.day ? e.learnt.day_heat_w : e.learnt.night_heat_w;
  if (!vapour || !heat) return;
  const double flow = flow_kg_per_h(view, e);
  const double loss = flow * tent_model::kAirHeat / 3600 + tent_model::kWallWattPerKelvin;
  const double part = part_in(dt_s, kRoomFollowsIn);
  const double g = part * (e.vapour_g_per_h - *vapour * answer_at(tent_model::vpd_kpa(e.air)));
  const double w = part * (e.heat_w - *heat);
  e.room.g_per_kg = std::max(0.5, e.room.g_per_kg + g / flow);
  e.room.celsius += w / loss;
  e.vapour_g_per_h -= g;
  e.heat_w -= w;
}

}  // namespace

TentEstimate load_estimate(const LawMemory& memory) {
  TentEstimate e;
  if (memory.ticks[kFlagsTick] == 0) return e;  // nothing was ever stored: `running` would be set
  std::size_t at = kLearntAt;
  for (const auto member : kLearntNumbers) e.learnt.*member = memory.numbers[at++];
  std::int64_t flags = memory.ticks[kFlagsTick];
  for (const auto member : kLearntMaybe) {
    if ((flags & 1) != 0) e.learnt.*member = memory.numbers[at];
    ++at;
    flags >>= 1;
  }
  for (const auto member : kNumbers) e.*member = memory.numbers[at++];
  for (const auto member : kAirs) {
    (e.*member).celsius = memory.numbers[at++];
    (e.*member).g_per_kg = memory.numbers[at++];
  }
  for (const auto member : kFlags) {
    e.*member = (flags & 1) != 0;
    flags >>= 1;
  }
  std::size_t tick = kInstantsTick;
  for (const auto member : kInstants) e.*member = instant(Millis{memory.ticks[tick++]});
  return e;
}

void store_estimate(const TentEstimate& e, LawMemory& memory) {
  std::size_t at = kLearntAt;
  std::int64_t flags = 0;
  int bit = 0;
  const auto put = [&](bool on) { flags |= static_cast<std::int64_t>(on) << bit++; };
  for (const auto member : kLearntNumbers) memory.numbers[at++] = e.learnt.*member;
  for (const auto member : kLearntMaybe) {
    put((e.learnt.*member).has_value());
    memory.numbers[at++] = (e.learnt.*member).value_or(0);
  }
  for (const auto member : kNumbers) memory.numbers[at++] = e.*member;
  for (const auto member : kAirs) {
    memory.numbers[at++] = (e.*member).celsius;
    memory.numbers[at++] = (e.*member).g_per_kg;
  }
  for (const auto member : kFlags) put(e.*member);
  memory.ticks[kFlagsTick] = flags;
  std::size_t tick = kInstantsTick;
  for (const auto member : kInstants) memory.ticks[tick++] = tick_ms(e.*member);
}

void observe(const ClimateView& view, TentEstimate& e) {
  const auto read = tent_model::moist_air(view.canopy);
  if (!read) return;
  const Millis since = view.now - e.sampled;
  if (!e.running || since > kStale || since < Millis{0}) {
    begin(view, *read, e);
  } else if (since > Millis{0}) {
    const double dt_s = static_cast<double>(since.count()) / 1000;
    follow_light(view, e);
    follow_flood(view, dt_s, e);
    read_room(view, part_in(dt_s, kRoomFilter), e);
    correct(view, filtered(view, dt_s, e), dt_s, e);
    if (e.room_seen)
      learn_sources(view, dt_s, e);
    else
      carry_room(view, dt_s, e);
  }
  e.running = true;
  e.sampled = view.now;
}

Beliefs believed(const Beliefs& owner, const TentLearnt& learnt) {
  Beliefs beliefs = owner;
  beliefs.dehumidifier_g_per_h *= learnt.drying_scale;
  return beliefs;
}

tent_model::Sources sources_of(const TentEstimate& e) {
  const FloodVapour flood{e.splash, e.wetness};
  return {e.vapour_g_per_h + flood.g_per_h(e.learnt.flood_peak_g_per_h), e.heat_w,
          tent_model::vpd_kpa(e.air)};
}

void FloodVapour::step(bool flooding, double dt_s) {
  splash += part_in(dt_s, kSplashFor) * ((flooding ? 1 : 0) - splash);
  wetness +=
      flooding ? part_in(dt_s, kSplashFor) * (1 - wetness) : -part_in(dt_s, kWetFor) * wetness;
}

void Dryer::step(bool runs, const Drying& full, double dt_s) {
  run_up += part_in(dt_s, runs ? kRunsUpIn : kRunsDownIn) * ((runs ? 1 : 0) - run_up);
  const double condensing = tent_model::kEvaporationWh * full.g_per_h;
  const double gives = (runs ? full.heat_w - condensing : 0) + condensing * run_up;
  appliance_w += part_in(dt_s, kApplianceHolds) * (gives - appliance_w);
}

std::optional<LightStep> light_step(const TentLearnt& learnt, bool lights_on, double vpd_kpa) {
  if (!learnt.day_vapour_g_per_h || !learnt.night_vapour_g_per_h || !learnt.day_heat_w ||
      !learnt.night_heat_w)
    return {};
  const double sign = lights_on ? 1 : -1;
  return LightStep{
      sign * (*learnt.day_vapour_g_per_h - *learnt.night_vapour_g_per_h) * answer_at(vpd_kpa),
      sign * (*learnt.day_heat_w - *learnt.night_heat_w)};
}

}  // namespace neap
