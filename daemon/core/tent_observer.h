// What the tent gives off, worked out from what the probes say: a disturbance observer for vapour
// and one for heat. Each carries the model of tent_model.h along with the devices' known inputs and
// puts what it finds different into a source, vapour E (g/h) and heat H (W):
//
//   w^  = (w^ + dt/M (E + F + m wroom - D x + mist)) / (1 + dt/M m)        m = rho Q, kg/h
//   y^  = what probe and filter make of w^, a lag L
//   i   = y - y^,   y^ += ly dt i,   w^ += lx dt i,   E += ld dt i           and likewise T^, H
//
// with two poles at -1/tau and the third at the air's own, a = m/M, or -1/tau if that is faster:
//   ly = 2/tau + b - a - 1/L,   lx = L (1/tau^2 + 2 b/tau - a (2/tau + b - a)),
//   ld = b L M / tau^2,   b = max(a, 1/tau)
//
// The lag is learnt, too, for vapour and temperature apart: a reading that comes late by d is off
// by -d times the slope of what should be read, so d follows their correlation, and stands where
// the air hardly moves. Slow probes are then not taken for a tent that gives off what it does not.
//
// Floods and lights are known inputs: F is a learnt template of the vapour that a flood adds, and E
// and H step by the learnt difference of day and night at a light edge. (Added to the forecast
// alone, the observer would cancel them.) Readings pass a filter whose time constant follows their
// noise.
//
// It moves on new samples only. What it has learnt of the tent stays across restarts; the rest
// starts again from the readings when the last sample is old.
#pragma once

#include <cstddef>
#include <optional>

#include "daemon/core/climate.h"
#include "daemon/core/tent_model.h"

namespace neap {

// What a tent teaches, kept across restarts. Vapour as it would be at 1 kPa of air VPD.
struct TentLearnt {
  std::optional<double> day_vapour_g_per_h, night_vapour_g_per_h;
  std::optional<double> day_heat_w, night_heat_w;
  double flood_peak_g_per_h = 60;  // a tray of 1 m2 under a canopy, simulated; no source
  std::optional<double> flood_lasts_s;
  double drying_scale = 1;  // dehumidifier: water against what its label says
  // Of the canopy probe and the air around it; learnt from slopes, whose mean squares stand beside.
  std::optional<double> vapour_lag_s, heat_lag_s;
  double vapour_slope2 = 0;  // (g/kg s)2
  double heat_slope2 = 0;    // (K/s)2
};

struct TentEstimate {
  TentLearnt learnt;
  bool running = false;     // a sample has been taken
  bool room_known = false;  // `room` was read once; else it is a guess
  bool room_seen = false;   // read in the latest sample; else `room` is carried on
  bool day = false;
  bool flooding = false;
  bool peak_due = false;  // this flood's lesson is still to be learnt
  Instant sampled{};
  Instant edge{};           // latest light edge, or start of observing
  Instant flood_started{};  // of the flood in progress or the last one
  double seen_c = 0;        // filtered readings
  double seen_percent = 0;
  double vpd_read = 0;          // of the latest reading, for the noise
  double noise_kpa2 = 0;        // mean square of VPD noise
  tent_model::MoistAir air;     // estimates
  tent_model::MoistAir lagged;  // what the probes should say of it
  tent_model::MoistAir room;
  double walls_c = 0;         // fabric, poles and fixture
  double vapour_g_per_h = 0;  // E, without F
  double heat_w = 0;          // H
  double vapour_before_flood = 0;
  double splash = 0;   // 0..1, water moving in the tray
  double wetness = 0;  // 0..1, wet medium
  double run_up = 0;   // dehumidifier, 0..1
  double coil_g = 0;   // water on its coil
  double metal_w = 0;  // heat that its warm metal gives off now
};

// The observer's part of the memory, which stays when the law changes.
TentEstimate load_estimate(const LawMemory& memory);
void store_estimate(const TentEstimate& estimate, LawMemory& memory);

// Takes in a new sample; needs usable canopy temperature and humidity, and does nothing without.
// `lag`: a law that looks ahead wants the probe's own. A law that answers what it sees at once gets
// the usual one: in a tent whose air follows slower than the model says the lag learnt is longer
// than the probe's, and such a law then swings (a test tent's fan moved 650 times a day).
enum class ProbeLag : std::uint8_t { usual, learnt };
void observe(const ClimateView& view, TentEstimate& estimate, ProbeLag lag);

// The owner's beliefs with what has been learnt of the devices.
Beliefs believed(const Beliefs& owner, const TentLearnt& learnt);

// The sources as the steady model wants them, the flood's vapour included.
tent_model::Sources sources_of(const TentEstimate& estimate);

// Vapour of a flood, g/h: it rises while water moves; then the wet medium dries.
struct FloodVapour {
  double splash = 0;
  double wetness = 0;
  void step(bool flooding, double dt_s);
  double g_per_h(double peak) const { return peak * (0.4 * splash + 0.6 * wetness); }
};

// A dehumidifier's run-up, 0..1, the water on its coil and the heat it holds, moved on by dt. The
// first water stays on the coil and goes back into the air when it rests (Shirey and Henderson
// 2004 saw that effect; 50 g and 25 min kPa are assumptions).
struct Dryer {
  double run_up = 0;
  double coil_g = 0;
  double metal_w = 0;        // heat that its warm metal gives off now
  double dries_g_per_h = 0;  // water that it takes now; negative while the coil dries
  double appliance_w =
      0;  // heat that the air gets now: the metal's, less what the coil's drying takes
  bool peltier = false;
  void step(bool runs, const tent_model::Drying& full, double dt_s);
};

Dryer dryer_of(const Beliefs& beliefs, const TentEstimate& estimate);

// What E and H step by when the light goes on (or, negative, off); nothing learnt: nullopt.
struct LightStep {
  double vapour_g_per_h = 0;
  double heat_w = 0;
};
std::optional<LightStep> light_step(const TentLearnt& learnt, bool lights_on, double vpd_kpa);

}  // namespace neap
