// The look-ahead of the predictive law: twelve minutes in steps of 10 s, rolled out for every legal
// combination of a fan level, a plan for the dehumidifier in the tent and pulses of the humidifier.
// Where a combination turns (the dehumidifier switches, a flood or a light edge comes) a few other
// fan levels are tried from there on. The cheapest one's first move is made. Prices, per step and
// averaged, with v the distance of VPD from a band that is drawn in by 0.05 kPa below and 0.06 kPa
// above (what probes and model miss), its low edge no lower than the humidity ceiling:
//
//   17 v + 10 v^2 + 0.6 min(1, v / 0.02) + 0.15 ((V - mid) / half)^2
//   + 0.3 (T - Tmax + 1.5)+ + 25 (T - Tmax + 0.4)+ + 10 (Tmin + 0.3 - T)+
//   + energy (1.5 dehumidifier + 0.3 u^3 + 2 mist)
//
// and once for each plan: 0.3 min(0.25, |change of u|), half of that for a later one, + start for a
// plan that switches the dehumidifier. The prices were found by search on simulated tents (no
// published source); time in band hardly depends on them, starts and fan moves do.
//
// Pure arithmetic on numbers with their unit in the name; no allocation.
#pragma once

#include "daemon/core/climate.h"
#include "daemon/core/outlook.h"
#include "daemon/core/tent_observer.h"

namespace neap {

// The humidifier's pulses: on for a part of each period. None: on_steps 0.
struct MistPulse {
  int on_steps = 0;
  int period_steps = 1;
  int into_steps = 0;  // how far into the first period it is now
  bool mists(int step) const { return (into_steps + step) % period_steps < on_steps; }
};

// The two prices that buy fewer starts and less energy for time in band.
struct Prices {
  double energy = 0.04;
  double start = 1.3;
};

struct Choice {
  Permille fan = kStopped;
  bool dehumidifier = false;
  MistPulse pulse;
  double cost = 0;
  double vpd_at_end_kpa = 0;  // air VPD expected at the horizon
};

// `beliefs` with what is learnt in them.
Choice look_ahead(const ClimateView& view, const Beliefs& beliefs, const TentEstimate& estimate,
                  const Outlook& ahead, const MistPulse& pulse_now, const Prices& prices);

}  // namespace neap
