// The yardstick that simulations compare with: the fan at one level, nothing else.
#pragma once

#include "daemon/core/climate.h"

namespace neap {

class FixedFanLaw final : public ClimateLaw {
 public:
  static constexpr std::uint32_t kId = 2;
  std::uint32_t id() const override { return kId; }
  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override;
};

}  // namespace neap
