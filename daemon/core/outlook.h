// The next twelve minutes as far as they are known: what the tent will give off through floods and
// light edges, where the band goes, and when the fan's ceiling changes.
#pragma once

#include <array>

#include "daemon/core/climate.h"
#include "daemon/core/tent_observer.h"

namespace neap {

constexpr int kLookAheadSteps = 72;
constexpr double kLookAheadStepS = 10;
constexpr Millis kLookAheadStep = seconds{10};
constexpr Millis kHorizon = kLookAheadStep * kLookAheadSteps;

// One entry a step.
struct Outlook {
  std::array<double, kLookAheadSteps> vapour_g_per_h{};  // without the devices
  std::array<double, kLookAheadSteps> heat_w{};
  std::array<double, kLookAheadSteps> low_kpa{};  // the band as it will be, in terms of air VPD
  std::array<double, kLookAheadSteps> high_kpa{};
  int turn = kLookAheadSteps;          // step of the next light edge, flood, change of ceiling
  int ceiling_turn = kLookAheadSteps;  // step from which the fan has another ceiling
};

// `leaf_shift_kpa`: leaf minus air VPD where the band is of the leaf, else 0.
Outlook outlook(const ClimateView& view, const TentEstimate& estimate, double leaf_shift_kpa);

// The band at a moment of the next hours, moving over its ramp around light edges.
Band band_ahead(const ClimateView& view, Instant at);

// How many whole steps of the horizon a wait takes, rounded up.
int steps_up(Millis wait);

}  // namespace neap
