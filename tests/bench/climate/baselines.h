// What people use instead: controllers for comparison, each with its own temperature override and
// without neap's limits. They know the readings and nothing else.
#pragma once

#include "daemon/core/climate.h"

namespace neap::arena {

// Fan at one level.
class FixedFan final : public ClimateLaw {
 public:
  explicit FixedFan(Permille level) : level_(level) {}
  std::uint32_t id() const override { return 201; }
  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override;

 private:
  Permille level_;
};

// Fan in proportion to the air's temperature, from 23 C at its least to 28 C at its most.
class ThermostatFan final : public ClimateLaw {
 public:
  std::uint32_t id() const override { return 202; }
  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override;
};

// Two stages on relative humidity: fan high over 62 %, dehumidifier over 65 %, humidifier under
// 52 %, each with 3 % of hysteresis; fan high over 28.5 C.
class Humidistat final : public ClimateLaw {
 public:
  std::uint32_t id() const override { return 203; }
  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override;
};

// PI on VPD for the fan with back-calculation against wind-up, hysteresis for dehumidifier and
// humidifier at the band's edges, fan override over 28.5 C.
class VpdPi final : public ClimateLaw {
 public:
  std::uint32_t id() const override { return 204; }
  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override;
};

}  // namespace neap::arena
