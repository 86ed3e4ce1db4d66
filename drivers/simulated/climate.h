// Air, canopy, walls and room of the simulated tent; each function names its source. One well-mixed
// air node. Fluxes are explicit and pairwise, so that water and heat close to rounding.
#pragma once

#include "drivers/simulated/parameters.h"
#include "drivers/simulated/state.h"

namespace neap::drivers::simulated {

// The part of its clean flow that the exhaust fan still moves through a filter of which `clogging`
// (0..0.9) is shut. At one speed the fan's pressure falls with the square of the flow, and filter
// and duct take theirs with the square of it (fan laws and system curve, ASHRAE Fundamentals), the
// filter's growing with 1/(1 - clogging)^2; `filter_share` of the pressure is the clean filter's.
// 1 when clean; by the same squares the flow stays in proportion to the speed.
double filter_passes(const Parameters& p, double clogging);

// Exhaust through the filter at a level 0..1, m3/h: nothing below 0.1, then linear. Joined with the
// leakage in quadrature (ASHRAE Fundamentals, superposition of fan and stack flows).
double air_flow_m3_h(const Parameters& p, double level, double warmer_k, double passes);

// The leaves' answer to light and air: Penman-Monteith (Stanghellini 1987) with the stomata of
// Graamans et al. 2017 and a Leuning-type closure in dry air (D0 1.5 kPa); twice the resistance in
// the dark. Positive: from leaf to air.
struct LeafFluxes {
  double warmer_k = 0;  // leaf minus air
  double heat_w = 0;
  double vapour_kg_s = 0;
};
struct LeafAir {
  double saturation_kpa = 0;
  double slope_kpa_k = 0;
  double vapour_kpa = 0;
};
LeafFluxes leaf_fluxes(const Parameters& p, double leaf_area, double radiation_w, double photons,
                       bool air_moves, double water_left, const LeafAir& air);

// One explicit step; `splash` while water moves in the tray. With `room_is_recorded` the room is
// what the weather file says and takes up nothing. The tent itself steps by 1 s; longer steps are
// for looking ahead, and must stay well under the time constants of the air.
void step_climate(State& s, const Parameters& p, const Acting& a, double seconds, bool splash,
                  bool room_is_recorded);

// Net radiation on the leaves, W, and photons on them, umol/m2s, at a light level 0..1.
double canopy_radiation_w(const Parameters& p, double light);
double canopy_photons(const Parameters& p, double light);

// Sensible heat and water held inside the borders that the ledger counts at.
double heat_held_j(const State& s, const Parameters& p);
double water_held_kg(const State& s, const Parameters& p, bool room_is_recorded);

}  // namespace neap::drivers::simulated
