// Moist air as the simulated tent has it. On purpose another saturation formula than the daemon's,
// so that a test cannot pass because both share one mistake.
#pragma once

#include <cmath>

namespace neap::drivers::simulated {

constexpr double kPressureKpa = 101.325;
constexpr double kAirDensity = 1.2;       // kg/m3, dry air at about 21 C
constexpr double kAirHeat = 1006.0;       // J/(kg K)
constexpr double kWaterHeat = 4186.0;     // J/(kg K)
constexpr double kVaporisation = 2.45e6;  // J/kg at 20 C (FAO-56, eq. 3-1)
constexpr double kMoleRatio = 0.621945;   // water to dry air
constexpr double kGravity = 9.81;         // m/s2
constexpr double kPsychrometric = kAirHeat * kPressureKpa / (kMoleRatio * kVaporisation);  // kPa/K

// Saturation pressure over water, kPa: Huang 2018, "A simple accurate formula for calculating
// saturation vapor pressure of water and ice", J. Appl. Meteor. Climatol. 57, eq. 17. Below 0 C it
// is carried on over supercooled water, as weather stations report humidity.
inline double saturation_kpa(double celsius) {
  return 0.001 * std::exp(34.494 - 4924.99 / (celsius + 237.1) - 1.57 * std::log(celsius + 105.0));
}

// Its slope d(saturation)/dT, kPa/K, from the formula's own derivative.
inline double saturation_slope(double celsius, double saturation) {
  const double a = celsius + 237.1;
  return saturation * (4924.99 / (a * a) - 1.57 / (celsius + 105.0));
}

// Humidity ratio (kg vapour a kg dry air) to vapour pressure (kPa), and back.
constexpr double vapour_kpa(double ratio) { return kPressureKpa * ratio / (kMoleRatio + ratio); }
constexpr double humidity_ratio(double vapour) {
  return kMoleRatio * vapour / (kPressureKpa - vapour);
}

}  // namespace neap::drivers::simulated
