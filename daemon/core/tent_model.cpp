#include "daemon/core/tent_model.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/psychrometrics.h"

namespace neap::tent_model {
namespace {

constexpr double kPressure = 101.325;        // kPa, sea level
constexpr double kMolarMassRatio = 621.945;  // g/kg (ASHRAE Fundamentals 2017 ch. 1)
constexpr double kFanDeadLevel = 0.1;        // of full level: below it the fan moves nothing
constexpr double kWithTheAir = 1.4;          // leaves and thin things answer with it (no source)
constexpr double kLeak = 4;                  // m3/h
constexpr double kLeakPerRootKelvin = 1.6;   // m3/h
constexpr double kCompressorWaterPerWh = 1.15;
constexpr double kPeltierWaterPerWh = 0.22;
constexpr int kIterations = 24;
constexpr double kDamping = 0.5;
constexpr double kSettled = 1e-4;  // K and g/kg a step: 0.02 Pa of VPD

// a + b T + c T^2 + d R + e R^2 + f T R, T in C, R in %.
struct Biquadratic {
  double a, b, c, d, e, f;
  double at(double t, double r) const {
    return a + b * t + c * t * t + d * r + e * r * r + f * t * r;
  }
};
constexpr Biquadratic kWater{-1.162525707, 0.02271469,  -1.13208e-4,
                             0.021110538,  -6.93034e-5, 3.78843e-4};
constexpr Biquadratic kEfficiency{-1.902154518, 0.063466565, -6.22839e-4,
                                  0.039540407,  -1.25637e-4, -1.76722e-4};

}  // namespace

double vapour_mass_kg(const Beliefs& beliefs) {
  return kVapourMassFactor * kAirDensity * beliefs.tent_m3;
}

double air_heat_wh_per_kelvin(const Beliefs& beliefs) {
  return kWithTheAir * kAirDensity * beliefs.tent_m3 * kAirHeat / 3600;
}

double saturation_kpa(double celsius) {
  return 0.6108 * std::exp(17.27 * celsius / (celsius + 237.3));
}

double vapour_kpa(double g_per_kg) { return g_per_kg * kPressure / (kMolarMassRatio + g_per_kg); }

double g_per_kg(double vapour_kpa) {
  return kMolarMassRatio * vapour_kpa / (kPressure - vapour_kpa);
}

double vpd_kpa(const MoistAir& air) {
  return saturation_kpa(air.celsius) - vapour_kpa(air.g_per_kg);
}

double humidity_percent(const MoistAir& air) {
  return std::clamp(100 * vapour_kpa(air.g_per_kg) / saturation_kpa(air.celsius), 0.0, 100.0);
}

std::optional<MoistAir> moist_air(const Air& air) {
  if (!air.temperature || !air.humidity) return {};
  const auto e = vapour_pressure(*air.temperature, *air.humidity);
  if (!e) return {};
  return MoistAir{air.temperature->value, g_per_kg(e->value)};
}

double air_flow_m3_per_h(const Beliefs& beliefs, Permille level, double kelvin_over_room) {
  const double part = std::max(0.0, level.value / 1000.0 - kFanDeadLevel) / (1 - kFanDeadLevel);
  const double fan = beliefs.fan_m3_per_h * part;
  const double leak = kLeak + kLeakPerRootKelvin * std::sqrt(std::abs(kelvin_over_room));
  return std::sqrt(fan * fan + leak * leak);
}

Drying drying_at(const Beliefs& beliefs, const MoistAir& air) {
  const double rh = humidity_percent(air);
  const double rated = beliefs.dehumidifier_g_per_h;
  const bool peltier = beliefs.dehumidifier_kind == DehumidifierKind::peltier;
  const double water = rated * std::clamp(kWater.at(air.celsius, rh), 0.05, 2.0);
  const double per_wh = (peltier ? kPeltierWaterPerWh : kCompressorWaterPerWh) *
                        std::clamp(kEfficiency.at(air.celsius, rh), 0.2, 2.0);
  return {water, water / per_wh + kEvaporationWh * water, vpd_kpa(air)};
}

SteadyAir steady_air(const Beliefs& beliefs, const Sources& sources, const MoistAir& room,
                     const Means& means) {
  return steady_air(beliefs, sources, room, means, {room, sources.at_vpd_kpa});
}

SteadyAir steady_air(const Beliefs& beliefs, const Sources& sources, const MoistAir& room,
                     const Means& means, const SteadyAir& near) {
  const bool dries = means.dehumidifier && beliefs.dehumidifier_place == DehumidifierPlace::tent;
  const double added = beliefs.humidifier_g_per_h * means.humidifier_duty;
  MoistAir air = near.air;
  double vpd = near.vpd_kpa;
  for (int i = 0; i < kIterations; ++i) {
    const double flow = kAirDensity *  // kg/h
                        air_flow_m3_per_h(beliefs, means.fan, air.celsius - room.celsius);
    const Drying drying = dries ? drying_at(beliefs, air) : Drying{};
    const double answer = std::max(0.2, 1 + kAnswerPerKilopascal * (vpd - sources.at_vpd_kpa));
    const double vapour = sources.vapour_g_per_h * answer + added - drying.g_per_h;
    const double heat = sources.heat_w + drying.heat_w - kEvaporationWh * added;
    const double carried = flow * kAirHeat / 3600 + kWallWattPerKelvin;
    const double warms = kDamping * (room.celsius + heat / carried - air.celsius);
    const double moistens = kDamping * (room.g_per_kg + vapour / flow - air.g_per_kg);
    air.celsius += warms;
    air.g_per_kg = std::max(0.0, air.g_per_kg + moistens);
    vpd = vpd_kpa(air);
    if (std::abs(warms) < kSettled && std::abs(moistens) < kSettled) break;
  }
  return {air, vpd};
}

}  // namespace neap::tent_model
