// Drying, heating and cooling in the simulated tent: the appliances with a mind or a mass of their
// own, and what they give to the air around them.
#pragma once

#include "drivers/simulated/parameters.h"
#include "drivers/simulated/state.h"

namespace neap::drivers::simulated {

// What flows into a body of air within a step.
struct Inflow {
  double heat_j = 0;
  double vapour_kg = 0;
};

// Compressor: generic curves of air temperature and relative humidity, about 1 at 26.7 C and 60 %:
// Winkler, Christensen, Tomerlin 2011 (NREL). Never below 0 (capacity) or 0.3 (efficiency).
double dehumidifier_capacity_factor(double celsius, double percent);
double dehumidifier_efficiency_factor(double celsius, double percent);

// Peltier: its plate stays a fixed number of kelvin below the air, so the capacity goes with how
// far the air's humidity ratio is over that at the plate; 1 at 26.7 C and 60 %, 0 when the plate is
// above the dew point. An assumption: makers publish one point.
double peltier_capacity_factor(double celsius, double percent, double plate_k);

// The appliance stands in the tent or in the room and warms the air there by its electric power and
// by the latent heat of what it takes out. A compressor's heat comes a few minutes late, and its
// coil gives water back when it stops (Shirey and Henderson 2004).
void step_dehumidifier(State& s, const Parameters& p, const Acting& a, double seconds, Inflow& tent,
                       Inflow& room);

// Air heater, water heater and chiller, each by a thermostat of its own; what is in the water may
// be commanded instead, and then works whenever it is told to.
// The chiller gives what it drew from the water and its own electric power to the room or the tent.
void step_thermostats(State& s, const Parameters& p, const Acting& a, double seconds, Inflow& tent,
                      Inflow& room);

}  // namespace neap::drivers::simulated
