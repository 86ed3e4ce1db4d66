// The look-ahead of the predictive law: twelve minutes in steps of 20 s, rolled out for every legal
// combination of a fan level, a plan for the dehumidifier and a duty of the humidifier; the
// cheapest one's first move is made. Prices, per step and averaged, with v the distance of VPD from
// a band that is drawn in by 0.02 kPa below and 0.07 kPa above (what probes and model miss):
//
//   17 v + 10 v^2 + 0.6 min(1, v / 0.02) + 0.05 ((V - mid) / half)^2
//   + 0.3 (T - Tmax + 1.5)+ + 25 (T - Tmax + 0.4)+ + 10 (Tmin + 0.3 - T)+
//   + 0.02 (1.5 dehumidifier + 0.3 u^3 + 0.3 mist)
//
// and once for each plan: 0.18 min(0.25, |change of u|) + 0.5 a switch of the dehumidifier.
// The prices were found by search on simulated tents (no published source).
//
// Pure arithmetic on numbers with their unit in the name; no allocation.
#pragma once

#include <array>

#include "daemon/core/climate.h"
#include "daemon/core/tent_observer.h"

namespace neap {

constexpr int kLookAheadSteps = 36;
constexpr double kLookAheadStepS = 20;
constexpr Millis kLookAheadStep = seconds{20};
constexpr Millis kHorizon = kLookAheadStep * kLookAheadSteps;

// The next twelve minutes as far as they are known, one entry a step.
struct Outlook {
  std::array<double, kLookAheadSteps> vapour_g_per_h{};  // without the devices
  std::array<double, kLookAheadSteps> heat_w{};
  std::array<double, kLookAheadSteps> low_kpa{};  // the band as it will be, in terms of air VPD
  std::array<double, kLookAheadSteps> high_kpa{};
};

// `leaf_shift_kpa`: leaf minus air VPD where the band is of the leaf, else 0.
Outlook outlook(const ClimateView& view, const TentEstimate& estimate, double leaf_shift_kpa);

// The band at a moment of the next hours, moving over its ramp around light edges.
Band band_ahead(const ClimateView& view, Instant at);

struct Choice {
  Permille fan = kStopped;
  bool dehumidifier = false;
  double humidifier_duty = 0;  // 0..1
  double cost = 0;
  double vpd_at_end_kpa = 0;           // air VPD expected at the horizon
  bool dehumidifier_switches = false;  // now
};

// `beliefs` with what is learnt in them.
Choice look_ahead(const ClimateView& view, const Beliefs& beliefs, const TentEstimate& estimate,
                  const Outlook& ahead);

}  // namespace neap
