#include "daemon/core/psychrometrics.h"

#include <cmath>

namespace neap {
namespace {

// FAO-56 eq. 11 and 13.
constexpr double kPressureAtZero = 0.6108;  // kPa
constexpr double kExponent = 17.27;
constexpr double kOffset = 237.3;  // degC
constexpr double kSlopeFactor = 4098;
// FAO-56 eq. 16, ventilated (Asmann type), per K.
constexpr double kVentilated = 0.000662;

constexpr double kKelvin = 273.15;
constexpr double kVapourGasConstant = 461.52;  // J/(kg K)
// ASHRAE Fundamentals 2017 ch. 1: ratio of molar masses, heats in kJ/(kg K), kJ/kg.
constexpr double kMolarMassRatio = 0.621945;
constexpr double kDryAirHeat = 1.006;
constexpr double kVapourHeat = 1.86;
constexpr double kEvaporation = 2501;

// Comparisons are written so that NaN falls outside.
constexpr bool inside(double v, double low, double high) { return v >= low && v <= high; }
constexpr bool valid(Celsius t) { return inside(t.value, -40, 60); }
constexpr bool valid(PercentRh rh) { return inside(rh.value, 0, 100); }
constexpr bool valid(Kilopascal p) { return inside(p.value, 50, 110); }
bool valid(KilogramPerKilogram w) { return std::isfinite(w.value) && w.value >= 0; }
bool valid(const AirStream& s) {
  return std::isfinite(s.dry_air_kg_per_s) && s.dry_air_kg_per_s > 0 && valid(s.temperature) &&
         valid(s.humidity_ratio);
}

double e0(Celsius t) {
  return kPressureAtZero * std::exp(kExponent * t.value / (t.value + kOffset));
}
// Eq. 10. At 100 % exactly e0, so that the deficit of saturated air is exactly zero.
double ea_of(Celsius air, PercentRh rh) { return rh.value / 100 * e0(air); }

}  // namespace

std::optional<Kilopascal> saturation_pressure(Celsius t) {
  if (!valid(t)) return std::nullopt;
  return Kilopascal{e0(t)};
}

std::optional<double> saturation_slope(Celsius t) {
  if (!valid(t)) return std::nullopt;
  const double from_pole = t.value + kOffset;
  return kSlopeFactor * e0(t) / (from_pole * from_pole);
}

std::optional<Kilopascal> vapour_pressure(Celsius air, PercentRh rh) {
  if (!valid(air) || !valid(rh)) return std::nullopt;
  return Kilopascal{ea_of(air, rh)};
}

std::optional<Kilopascal> air_vpd(Celsius air, PercentRh rh) { return leaf_vpd(air, rh, air); }

std::optional<Kilopascal> leaf_vpd(Celsius air, PercentRh rh, Celsius leaf) {
  if (!valid(air) || !valid(rh) || !valid(leaf)) return std::nullopt;
  return Kilopascal{e0(leaf) - ea_of(air, rh)};
}

std::optional<Celsius> dew_point(Celsius air, PercentRh rh) {
  if (!valid(air) || !valid(rh) || rh.value == 0) return std::nullopt;
  // ln(ea/0.6108) without forming ea: exact at 100 % but for rounding, and no underflow near 0 %.
  const double l = std::log(rh.value / 100) + kExponent * air.value / (air.value + kOffset);
  return Celsius{kOffset * l / (kExponent - l)};
}

std::optional<PercentRh> humidity_from_dew_point(Celsius air, Celsius dew) {
  if (!valid(air) || !valid(dew) || dew > air) return std::nullopt;
  return PercentRh{100 * e0(dew) / e0(air)};
}

std::optional<Kilopascal> vapour_pressure_from_wet_bulb(Celsius dry, Celsius wet, Kilopascal p) {
  if (!valid(dry) || !valid(wet) || !valid(p) || wet > dry) return std::nullopt;
  const double ea = e0(wet) - kVentilated * p.value * (dry.value - wet.value);
  if (ea < 0) return std::nullopt;  // a wet bulb colder than dry air can make it
  return Kilopascal{ea};
}

std::optional<GramsPerCubicMetre> vapour_density(Celsius air, PercentRh rh) {
  if (!valid(air) || !valid(rh)) return std::nullopt;
  return GramsPerCubicMetre{ea_of(air, rh) * 1e6 / (kVapourGasConstant * (air.value + kKelvin))};
}

std::optional<KilogramPerKilogram> humidity_ratio(Celsius air, PercentRh rh, Kilopascal p) {
  if (!valid(air) || !valid(rh) || !valid(p)) return std::nullopt;
  // p > ea everywhere in the domain: e0(60 C) is under 20 kPa, p at least 50 kPa.
  const double ea = ea_of(air, rh);
  return KilogramPerKilogram{kMolarMassRatio * ea / (p.value - ea)};
}

std::optional<double> relative_humidity_at(Celsius air, KilogramPerKilogram w, Kilopascal p) {
  if (!valid(air) || !valid(w) || !valid(p)) return std::nullopt;
  const double ea = p.value * w.value / (kMolarMassRatio + w.value);
  return 100 * ea / e0(air);
}

KilojoulePerKilogram enthalpy(Celsius air, KilogramPerKilogram w) {
  return KilojoulePerKilogram{kDryAirHeat * air.value +
                              w.value * (kEvaporation + kVapourHeat * air.value)};
}

Celsius temperature_at(KilojoulePerKilogram h, KilogramPerKilogram w) {
  return Celsius{(h.value - kEvaporation * w.value) / (kDryAirHeat + kVapourHeat * w.value)};
}

std::optional<Kilopascal> pressure_at_altitude(double metres) {
  if (!inside(metres, -500, 5000)) return std::nullopt;
  return Kilopascal{101.325 * std::pow(1 - 2.25577e-5 * metres, 5.25588)};
}

std::optional<MixedAir> mix(const AirStream& a, const AirStream& b, Kilopascal p) {
  if (!valid(a) || !valid(b) || !valid(p)) return std::nullopt;
  const double share = a.dry_air_kg_per_s / (a.dry_air_kg_per_s + b.dry_air_kg_per_s);
  const auto mean = [share](auto x, auto y) { return x * share + y * (1 - share); };
  MixedAir mixed;
  mixed.humidity_ratio = mean(a.humidity_ratio, b.humidity_ratio);
  // The heat is mean, not the temperature: the linear shortcut is 0.05 K low for winter air.
  mixed.temperature = temperature_at(
      mean(enthalpy(a.temperature, a.humidity_ratio), enthalpy(b.temperature, b.humidity_ratio)),
      mixed.humidity_ratio);
  const auto rh = relative_humidity_at(mixed.temperature, mixed.humidity_ratio, p);
  if (!rh) return std::nullopt;
  mixed.relative_humidity = *rh;
  mixed.supersaturated = *rh > 100;
  return mixed;
}

}  // namespace neap
