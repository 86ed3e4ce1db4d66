// The rule law: each device has one rule that can be said in a sentence, and nothing is predicted.
//
//   fan           PI on VPD in the logarithm of the air flow, in velocity form. Its gain takes the
//                 sign of what venting does now (venting.h): g = dVPD / d ln Q.
//                   d ln Q = Kc/Ti (aim - V) dt - Kc dV,  Kc = tau / (g (tc + th)),
//                   Ti = min(tau, 4 (tc + th))       (SIMC tuning, Skogestad 2003)
//                 with |g| >= 0.15 and |Kc| <= 4; where venting hardly matters (|g| < 0.04) the
//                 flow drifts to its least. A fan without speeds runs or stops around the aim.
//   aim           the middle of the band; a little above it from two minutes before a flood or
//                 lights-off, both of which moisten, until they are over
//   dehumidifier  in the tent: when the band is being lost below and the ceiling of venting, the
//                 VPD that the best fan level settles at without it, is too low; in the room:
//                 room_dryer.h
//   humidifier    PI on its duty over two minutes, only with the fan where the air is most humid
//                 and never while the dehumidifier runs; near the upper temperature limit it cools
//   heat          near the upper temperature limit the fan opens in proportion, where the room is
//                 cooler
//
// The sources that the ceiling needs come from the observer (tent_observer.h). The figures were
// found on simulated tents (no published source but SIMC).
#pragma once

#include "daemon/core/climate.h"

namespace neap {

class RuleLaw final : public ClimateLaw {
 public:
  static constexpr std::uint32_t kId = 4;
  std::uint32_t id() const override { return kId; }
  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override;
};

}  // namespace neap
