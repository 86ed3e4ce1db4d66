// The tent's air as the climate laws model it: one well-mixed node, steady balances of vapour and
// heat, and devices by their labels. What the model gets wrong about a real tent, an observer
// (daemon/core/tent_observer.h) makes up for: it puts the difference into the tent's sources.
//
//   flow       Q = sqrt(Qf^2 + Ql^2), Qf = Qmax (u - 0.1) / 0.9 for a level u >= 0.1, leakage
//              Ql = 4 + 1.6 sqrt|T - Troom| m3/h (superposition in quadrature: ASHRAE Fundamentals,
//              ventilation and infiltration; the coefficients are assumptions)
//   vapour     w = wroom + (E (1 + beta (V - V0)) + humidifier - dehumidifier) / (rho Q)
//   heat       T = Troom + (H + dehumidifier's heat - lambda humidifier) / (rho Q cp + UA)
//   V          e0(T) - e(w), FAO-56 eq. 11, at sea level: tent and room are treated alike, so that
//              altitude drops out of their difference
//
// beta = 0.5 /kPa: how strongly plants and wet medium answer to dryness; UA = 25 W/K of wall. Both
// are assumptions that hardly matter (simulated: UA x0.6 costs 0.7 points of time in band).
//
// Plain doubles with the unit in the name: the look-ahead evaluates these thousands of times.
#pragma once

#include <optional>

#include "daemon/core/climate.h"

namespace neap::tent_model {

constexpr double kAirDensity = 1.2;           // kg/m3
constexpr double kAirHeat = 1006;             // J/(kg K)
constexpr double kEvaporationWh = 0.6806;     // Wh/g, 2450 J/g at 20 C (FAO-56 ch. 3)
constexpr double kWallWattPerKelvin = 25;     // UA
constexpr double kAnswerPerKilopascal = 0.5;  // beta

// For the laws that reckon in seconds and minutes. Vapour: leaves, walls and medium take up 0.3 of
// what the air does. Heat: the air answers a device within half a minute against walls and leaves,
// which follow within minutes:
//   Ca dT/dt = H + devices + rho Q cp (Troom - T) + hi (Tm - T)
//   Cm dTm/dt = hi (T - Tm) + ho (Troom - Tm)
// hi = ho = 50 W/K make up UA; Cm = 18 kJ/K of fabric, poles and fixture (12 to 30 do as well).
constexpr double kVapourMassFactor = 1.3;
constexpr double kHeatWhPerKelvin = 12.0 / 3.6;  // both together, as one node would show them
constexpr double kInsideWattPerKelvin = 50;
constexpr double kOutsideWattPerKelvin = 50;
constexpr double kWallsWhPerKelvin = 18.0 / 3.6;

struct MoistAir {
  double celsius = 0;
  double g_per_kg = 0;  // humidity ratio, water to dry air
};

// What the tent does by itself: plants, medium and lamp, without the devices. `heat_w` is the
// sensible heat to the air, evaporation already taken off.
struct Sources {
  double vapour_g_per_h = 0;
  double heat_w = 0;
  double at_vpd_kpa = 1;  // V0: the air VPD at which the vapour source was seen
};

// Devices as they would run. A dehumidifier in the room acts on the room, never here.
struct Means {
  Permille fan = kStopped;
  bool dehumidifier = false;
  double humidifier_duty = 0;  // 0..1
};

struct SteadyAir {
  MoistAir air;
  double vpd_kpa = 0;  // of air; negative where the balance asks for more than saturation
};

double vapour_mass_kg(const Beliefs& beliefs);          // effective, dry air
double air_heat_wh_per_kelvin(const Beliefs& beliefs);  // Ca

// FAO-56 eq. 11 without its domain's check.
double saturation_kpa(double celsius);
double vapour_kpa(double g_per_kg);
double g_per_kg(double vapour_kpa);  // its inverse
double vpd_kpa(const MoistAir& air);
double humidity_percent(const MoistAir& air);  // 0..100

// Temperature and humidity of a place as the model wants them; absent without both readings.
std::optional<MoistAir> moist_air(const Air& air);

double air_flow_m3_per_h(const Beliefs& beliefs, Permille level, double kelvin_over_room);

// A dehumidifier's water and its sensible heat (power plus the heat of condensing) once run up.
struct Drying {
  double g_per_h = 0;
  double heat_w = 0;
  double vpd_kpa = 0;  // of the air drawn in: what dries its coil when it rests
};
// At the air it draws in. Capacity and efficiency relative to 26.7 C and 60 %: biquadratics of
// Winkler, Christensen and Tomerlin 2011 (NREL), as public building models carry them. Water per
// energy 1.15 g/Wh, of a Peltier element 0.22 g/Wh (as labelled by makers, no source).
Drying drying_at(const Beliefs& beliefs, const MoistAir& air);

// Where the air settles under `means`. The dehumidifier counts if beliefs place it in the tent.
SteadyAir steady_air(const Beliefs& beliefs, const Sources& sources, const MoistAir& room,
                     const Means& means);
// The same, sooner: `near` is where it settles under means that differ little.
SteadyAir steady_air(const Beliefs& beliefs, const Sources& sources, const MoistAir& room,
                     const Means& means, const SteadyAir& near);

}  // namespace neap::tent_model
