// The law that needs to know nothing of the tent: every device has two positions, every switch has
// hysteresis. With a band low..high, its middle `mid` and a margin h (a part of its width):
//
//   drying wanted      from VPD < low + h until VPD > mid
//   moistening wanted  from VPD > high - h until VPD < mid
//   fan                at its most while drying is wanted, else at its least; the other way round
//                      where venting moistens (daemon/core/venting.h)
//   dehumidifier       from VPD < low + h/4 with the fan at its most for the drying delay, or at
//   once
//                      where venting cannot get into the band; in the tent until VPD > mid, in the
//                      room until VPD > mid with the fan at its least for the drying delay
//   humidifier         from VPD > high - h with the fan at its least for 2 min and the dehumidifier
//                      stopped for 5 min, until VPD < mid
//
// A dehumidifier in the tent dries it below the room, so the fan keeps to its least meanwhile: the
// two must not fight.
#pragma once

#include "daemon/core/climate.h"

namespace neap {

class TwoPositionLaw final : public ClimateLaw {
 public:
  static constexpr std::uint32_t kId = 1;
  std::uint32_t id() const override { return kId; }
  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override;
};

}  // namespace neap
