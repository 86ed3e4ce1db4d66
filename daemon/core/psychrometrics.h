// Moist air. FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), equations by its numbers, so
// that a grower's chart and neap agree; within 0.13 % of IAPWS-95 over 5..40 C. Ideal-gas mixing.
//
// Domain: temperature -40..60 C (over water, also below 0 C, as WMO reports humidity), humidity
// 0..100 %, pressure 50..110 kPa. Outside, or not finite: std::nullopt. Nothing is clamped.
#pragma once

#include <optional>

#include "daemon/core/units.h"

namespace neap {

// Eq. 11: e0(T) = 0.6108 exp(17.27 T / (T + 237.3)).
std::optional<Kilopascal> saturation_pressure(Celsius t);
// Eq. 13: slope of the above, kPa per K.
std::optional<double> saturation_slope(Celsius t);
// Eq. 10: ea = RH/100 e0(T).
std::optional<Kilopascal> vapour_pressure(Celsius air, PercentRh rh);
// e0(T) - ea: never negative inside the domain.
std::optional<Kilopascal> air_vpd(Celsius air, PercentRh rh);
// e0(T_leaf) - ea(T_air, RH). Negative means dew on the leaf, and is returned as such.
std::optional<Kilopascal> leaf_vpd(Celsius air, PercentRh rh, Celsius leaf);
// Exact inverse of eq. 11 (eq. 14 solved): over water. nullopt at 0 % (there is none).
std::optional<Celsius> dew_point(Celsius air, PercentRh rh);
// RH = 100 e0(Td)/e0(T); nullopt when Td > T.
std::optional<PercentRh> humidity_from_dew_point(Celsius air, Celsius dew);
// Eq. 15 and 16 with the ventilated coefficient 0.000662 per K.
std::optional<Kilopascal> vapour_pressure_from_wet_bulb(Celsius dry, Celsius wet, Kilopascal p);
// ea 1e6 / (461.52 (T + 273.15)), g/m3; 461.52 J/(kg K) is the gas constant of water vapour.
std::optional<GramsPerCubicMetre> vapour_density(Celsius air, PercentRh rh);
// W = 0.621945 ea / (p - ea) (ASHRAE Fundamentals 2017 ch. 1).
std::optional<KilogramPerKilogram> humidity_ratio(Celsius air, PercentRh rh, Kilopascal p);
// RH at a humidity ratio; may exceed 100 (supersaturated), the caller decides what that means.
std::optional<double> relative_humidity_at(Celsius air, KilogramPerKilogram w, Kilopascal p);
// h = 1.006 T + W (2501 + 1.86 T).
KilojoulePerKilogram enthalpy(Celsius air, KilogramPerKilogram w);
// Inverse of the above for T.
Celsius temperature_at(KilojoulePerKilogram h, KilogramPerKilogram w);
// Standard atmosphere, ASHRAE: 101.325 (1 - 2.25577e-5 z)^5.25588; z -500..5000 m.
std::optional<Kilopascal> pressure_at_altitude(double metres);

// Two streams mixed without heat or water lost: W and h are mean by dry-air mass.
struct AirStream {
  double dry_air_kg_per_s = 0;  // > 0
  Celsius temperature;
  KilogramPerKilogram humidity_ratio;
};
struct MixedAir {
  Celsius temperature;  // of the mixture before any fog forms
  KilogramPerKilogram humidity_ratio;
  double relative_humidity = 0;  // %, above 100 when supersaturated
  bool supersaturated = false;   // two unsaturated streams can make fog
};
std::optional<MixedAir> mix(const AirStream& a, const AirStream& b, Kilopascal p);

}  // namespace neap
