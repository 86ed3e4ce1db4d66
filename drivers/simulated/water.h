// Water in the simulated tent: pump, hose, tray, standpipe, drain, reservoir, and what ends on the
// floor. Lengths m, areas m2, flows m3/s inside; the state holds kilograms.
#pragma once

#include "drivers/simulated/parameters.h"
#include "drivers/simulated/state.h"

namespace neap::drivers::simulated {

// The table's geometry and its resistances, worked out once.
class Hydraulics {
 public:
  explicit Hydraulics(const Parameters& p);

  double depth_m(double tray_kg) const { return tray_kg / kg_per_m_; }
  // Pump curve H = H0 (1 - (Q/Q0)^2) against static head and the hose's loss X Q^2 / (2 g a^2).
  // `strength` scales Q0. 0 where the head is beyond the pump.
  double pump_m3_s(double static_head_m, double strength) const;
  // Over the rim: the lesser of weir 1.84 pi D h^1.5 and orifice 0.6 A sqrt(2 g h).
  double standpipe_m3_s(double over_rim_m) const;
  // Out of the tray at rest. Weep hole and valve after Torricelli, Cd a sqrt(2 g h); back through
  // the pump with the fall of the hose as extra head, less its friction.
  double drain_m3_s(double depth_m) const;
  bool drains_through_pump() const { return path_ == 0; }
  bool drains_by_valve() const { return path_ == 2; }
  double standpipe_m() const { return standpipe_m_; }

 private:
  int path_;
  double kg_per_m_;
  double shutoff_m_, lift_m_, pump_curve_, hose_curve_;
  double standpipe_m_, standpipe_bore_m_;
  double hole_;  // Cd a sqrt(2 g)
  double fall_;  // the same for the way back through the pump
};

// One grid step of 1 s. Returns whether water moved in the tray: then it splashes.
bool step_water(State& s, const Parameters& p, const Hydraulics& h, const Acting& a);

// The grower's round: mops the floor, and tops the reservoir up when it is below its mark.
void grower_round(State& s, const Parameters& p);
// Wipes the floor and the probes dry.
void mop(State& s);

// Heat capacities with the water that is there, J/K.
double medium_heat(const State& s, const Parameters& p);
double reservoir_heat(const State& s);

double solution_kg(const State& s);
double solution_ec(const State& s);

// Takes water that left the medium or the tray at its own temperature off the books.
void take_from_medium(State& s, double kg);

}  // namespace neap::drivers::simulated
