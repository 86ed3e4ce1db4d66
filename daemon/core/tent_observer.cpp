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
constexpr double kFilterLeast = 15;      // s
constexpr double kFilterMost = 90;       // s
constexpr double kProbeLag = 70;         // s, its own and that of the air around it, until learnt
constexpr double kTauBase = 70;          // s
constexpr double kTauNoise = 1200;       // s/kPa
constexpr double kTauLeast = 90;         // s
constexpr double kTauMost = 180;         // s
constexpr double kObserverStep = 10;     // s
constexpr double kRoomFilter = 60;       // s

constexpr double kSplashFor = 90;       // s
constexpr double kWetFor = 20 * 60;     // s
constexpr double kRunsUpIn = 150;       // s
constexpr double kRunsDownIn = 40;      // s
constexpr double kPeltierIn = 20;       // s
constexpr double kMetalHolds = 180;     // s
constexpr double kCoilHolds = 50;       // g
constexpr double kCoilDries = 25 * 60;  // s kPa

constexpr Millis kSettledAfterEdge = minutes{30};
constexpr double kLearnFor = 90 * 60;  // s
constexpr Millis kFloodApartFromEdge = minutes{40};
constexpr double kPeakPart = 0.6;  // of the flood's length
constexpr double kPeakWeight = 0.3;
constexpr double kPeakMost = 600;  // g/h: an open tray of 1.4 m2 with warm, splashing water
constexpr double kLengthWeight = 0.5;

// Learning the lags. No published source: found on simulated tents, with probes of 30 to 300 s.
constexpr double kLagFollowsIn = 3600;   // s, where the air moves much
constexpr double kSlopeOver = 2 * 3600;  // s, of the mean squares
constexpr double kStill = 0.001;         // g/kg s and K/s: slower air says little of a lag
constexpr double kLagLeast = 20;         // s
constexpr double kVapourLagMost = 200;   // s
constexpr double kHeatLagMost = 300;     // s

// A room never read, and how fast the idea of one that is read no more follows the tent.
constexpr MoistAir kRoomAtFirst{22, 8.3};   // VPD 1.3 kPa
constexpr double kRoomFollowsIn = 20 * 60;  // s

double part_in(double dt_s, double tau_s) { return 1 - std::exp(-dt_s / tau_s); }

double answer_at(double vpd_kpa) {
  return std::max(0.2, 1 + tent_model::kAnswerPerKilopascal * (vpd_kpa - 1));
}

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
  e.air = e.lagged = read;
  e.day = view.targets.day;
  e.edge = view.now;
  e.flooding = view.future.flood_now;
  e.flood_started = view.future.flood_started;
  e.splash = e.wetness = e.flooding ? 1 : 0;
  read_room(view, 1, e);
  e.walls_c = (e.air.celsius + e.room.celsius) / 2;
  if (dries_tent(view)) {
    e.run_up = 1;
    e.coil_g = kCoilHolds;
    e.metal_w = tent_model::drying_at(believed(view.beliefs, e.learnt), read).heat_w;
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

double filter_seconds(double noise_kpa) {
  return std::clamp(kNoiseToFilter * noise_kpa, kFilterLeast, kFilterMost);
}

// Filtered readings, as moist air.
MoistAir filtered(const ClimateView& view, double dt_s, TentEstimate& e) {
  const double vpd = tent_model::saturation_kpa(view.canopy.temperature->value) *
                     (1 - view.canopy.humidity->value / 100);
  const double change = vpd - e.vpd_read;
  e.vpd_read = vpd;
  e.noise_kpa2 += kNoiseWeight * (change * change / 2 - e.noise_kpa2);
  const double part = part_in(dt_s, filter_seconds(std::sqrt(e.noise_kpa2)));
  e.seen_c += part * (view.canopy.temperature->value - e.seen_c);
  e.seen_percent += part * (view.canopy.humidity->value - e.seen_percent);
  const double pressure = tent_model::saturation_kpa(e.seen_c) * e.seen_percent / 100;
  return {e.seen_c, tent_model::g_per_kg(pressure)};
}

// The model's answer to the devices over dt.
void predict(const ClimateView& view, double dt_s, TentEstimate& e) {
  const Beliefs beliefs = believed(view.beliefs, e.learnt);
  const double flow = flow_kg_per_h(view, e);
  Dryer dryer = dryer_of(view.beliefs, e);
  dryer.step(dries_tent(view), tent_model::drying_at(beliefs, e.air), dt_s);
  e.run_up = dryer.run_up;
  e.coil_g = dryer.coil_g;
  e.metal_w = dryer.metal_w;
  const bool mists = view.humidifier.fitted && view.humidifier.level != kStopped;
  const double mist = mists ? beliefs.humidifier_g_per_h : 0;
  const FloodVapour flood{e.splash, e.wetness};
  const double vapour =
      e.vapour_g_per_h + flood.g_per_h(e.learnt.flood_peak_g_per_h) - dryer.dries_g_per_h + mist;
  const double heat = e.heat_w + dryer.appliance_w - tent_model::kEvaporationWh * mist;
  const double carried = flow * tent_model::kAirHeat / 3600;
  const double inside = tent_model::kInsideWattPerKelvin;
  const double outside = tent_model::kOutsideWattPerKelvin;
  const double a = dt_s / 3600 / tent_model::vapour_mass_kg(beliefs);
  const double b = dt_s / 3600 / tent_model::air_heat_wh_per_kelvin(beliefs);
  e.air.g_per_kg = (e.air.g_per_kg + a * (vapour + flow * e.room.g_per_kg)) / (1 + a * flow);
  e.walls_c += dt_s / 3600 / tent_model::kWallsWhPerKelvin *
               (inside * (e.air.celsius - e.walls_c) + outside * (e.room.celsius - e.walls_c));
  e.air.celsius = (e.air.celsius + b * (heat + carried * e.room.celsius + inside * e.walls_c)) /
                  (1 + b * (carried + inside));
}

// Of the observer (see the header): `own` is the air's own pole, a second.
struct Gains {
  double lagged, air, source;  // a second; `source` per unit of what takes it up
  Gains(double tau_s, double lag_s, double own) {
    const double g = 1 / tau_s;
    const double third = std::max(own, g);
    lagged = 2 * g + third - own - 1 / lag_s;
    air = lag_s * (g * g + 2 * g * third - own * (2 * g + third - own));
    source = g * g * third * lag_s;
  }
};

// `off`: what is read less what should be read, whose slope is `slope`, a second. Drawn back to
// what is usual while the air says little.
void learn_lag(double off, double slope, double most_s, double dt_s, double& slope2,
               std::optional<double>& lag_s) {
  slope2 += part_in(dt_s, kSlopeOver) * (slope * slope - slope2);
  const double lag = lag_s.value_or(kProbeLag);
  const double still2 = kStill * kStill;
  const double late = (-off * slope + still2 * (kProbeLag - lag)) / (slope2 + still2);
  lag_s = std::clamp(lag + part_in(dt_s, kLagFollowsIn) * late, kLagLeast, most_s);
}

void correct(const ClimateView& view, const MoistAir& read, double dt_s, ProbeLag lag,
             TentEstimate& e) {
  const double noise = std::sqrt(e.noise_kpa2);
  const double filter = filter_seconds(noise);
  const bool learns = lag == ProbeLag::learnt;
  TentLearnt& learnt = e.learnt;
  const double vapour_lag = (learns ? learnt.vapour_lag_s.value_or(kProbeLag) : kProbeLag) + filter;
  const double heat_lag = (learns ? learnt.heat_lag_s.value_or(kProbeLag) : kProbeLag) + filter;
  const double tau = std::clamp(kTauBase + kTauNoise * noise, kTauLeast, kTauMost);
  const double flow = flow_kg_per_h(view, e);
  const double mass = tent_model::vapour_mass_kg(view.beliefs);
  const double heat = tent_model::air_heat_wh_per_kelvin(view.beliefs);
  const Gains vapour_gain{tau, vapour_lag, flow / mass / 3600};
  const Gains heat_gain{
      tau, heat_lag,
      (flow * tent_model::kAirHeat / 3600 + tent_model::kInsideWattPerKelvin) / heat / 3600};
  // In steps short against the poles, so that slow probes do not shake it.
  const int steps = std::max(1, static_cast<int>(std::ceil(dt_s / kObserverStep)));
  const double dt = dt_s / steps;
  for (int i = 0; i < steps; ++i) {
    predict(view, dt, e);
    const double w_slope = (e.air.g_per_kg - e.lagged.g_per_kg) / vapour_lag;
    const double t_slope = (e.air.celsius - e.lagged.celsius) / heat_lag;
    e.lagged.g_per_kg += part_in(dt, vapour_lag) * (e.air.g_per_kg - e.lagged.g_per_kg);
    e.lagged.celsius += part_in(dt, heat_lag) * (e.air.celsius - e.lagged.celsius);
    const double w_late = read.g_per_kg - e.lagged.g_per_kg;
    const double t_late = read.celsius - e.lagged.celsius;
    if (learns) {
      learn_lag(w_late, w_slope, kVapourLagMost, dt, learnt.vapour_slope2, learnt.vapour_lag_s);
      learn_lag(t_late, t_slope, kHeatLagMost, dt, learnt.heat_slope2, learnt.heat_lag_s);
    }
    const double w_off = w_late * dt;
    const double t_off = t_late * dt;
    e.lagged.g_per_kg += vapour_gain.lagged * w_off;
    e.lagged.celsius += heat_gain.lagged * t_off;
    e.air.g_per_kg += vapour_gain.air * w_off;
    e.air.celsius += heat_gain.air * t_off;
    e.vapour_g_per_h += vapour_gain.source * 3600 * mass * w_off;
    e.heat_w += heat_gain.source * 3600 * heat * t_off;
  }
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

void observe(const ClimateView& view, TentEstimate& e, ProbeLag lag) {
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
    correct(view, filtered(view, dt_s, e), dt_s, lag, e);
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
  const double starts_in = peltier ? kPeltierIn : kRunsUpIn;
  const double stops_in = peltier ? kPeltierIn : kRunsDownIn;
  run_up += part_in(dt_s, runs ? starts_in : stops_in) * ((runs ? 1 : 0) - run_up);
  const double condenses = full.g_per_h * run_up;
  double returns = 0;
  if (!peltier) {
    returns = runs ? 0 : coil_g / kCoilDries * std::max(0.0, full.vpd_kpa) * 3600;
    coil_g = std::clamp(coil_g + (condenses - returns) * dt_s / 3600, 0.0, kCoilHolds);
  }
  dries_g_per_h = condenses - returns;
  const double power = full.heat_w - tent_model::kEvaporationWh * full.g_per_h;
  const double gives = (runs ? power : 0) + tent_model::kEvaporationWh * condenses;
  metal_w += part_in(dt_s, kMetalHolds) * (gives - metal_w);
  appliance_w = metal_w - tent_model::kEvaporationWh * returns;
}

Dryer dryer_of(const Beliefs& beliefs, const TentEstimate& e) {
  Dryer dryer{.run_up = e.run_up, .coil_g = e.coil_g, .metal_w = e.metal_w};
  dryer.peltier = beliefs.dehumidifier_kind == DehumidifierKind::peltier;
  return dryer;
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
