#include "tests/bench/climate/baselines.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/venting.h"

namespace neap::arena {
namespace {

constexpr double kWarm = 28.5;  // C, where every override begins
const Because kWhy = because(Reason::law_demand);

Permille level_of(const LegalMove& fan, double part) {
  const double most = most_venting(fan).value;
  const double least = least_venting(fan).value;
  if (!fan.variable) return part > 0.5 ? kRunning : kStopped;
  return Permille{static_cast<int>(std::lround(std::clamp(part * 1000, least, most)))};
}

Wish two_positions(bool on) { return {true, on ? kRunning : kStopped, kWhy}; }

}  // namespace

ClimateAsk FixedFan::decide(const ClimateView&, LawMemory&) const {
  ClimateAsk ask;
  ask.fan = {true, level_, kWhy};
  ask.dehumidifier = ask.humidifier = two_positions(false);
  return ask;
}

ClimateAsk ThermostatFan::decide(const ClimateView& view, LawMemory&) const {
  ClimateAsk ask;
  ask.fan = {true, level_of(view.fan, 0.2 + 0.8 * (view.canopy.temperature->value - 23) / 5), kWhy};
  ask.dehumidifier = ask.humidifier = two_positions(false);
  return ask;
}

ClimateAsk Humidistat::decide(const ClimateView& view, LawMemory& memory) const {
  const double percent = view.canopy.humidity->value;
  const auto follow = [&](double& on, double from, double to) {
    if (percent > from) on = 1;
    if (percent < to) on = 0;
  };
  follow(memory.numbers[0], 62, 59);
  follow(memory.numbers[1], 65, 62);
  if (percent < 52) memory.numbers[2] = 1;
  if (percent > 55) memory.numbers[2] = 0;
  const bool warm = view.canopy.temperature->value > kWarm;
  ClimateAsk ask;
  ask.fan = {true, level_of(view.fan, memory.numbers[0] > 0 || warm ? 1.0 : 0.2), kWhy};
  ask.dehumidifier = two_positions(memory.numbers[1] > 0);
  ask.humidifier = two_positions(memory.numbers[2] > 0 && memory.numbers[1] <= 0);
  return ask;
}

// numbers[0] integral, [1] dehumidifier, [2] humidifier, [3] fan level.
ClimateAsk VpdPi::decide(const ClimateView& view, LawMemory& memory) const {
  constexpr double kGain = 0.8;      // of fan level a kPa
  constexpr double kIntegral = 300;  // s
  constexpr double kTracking = 120;  // s
  constexpr double kSample = 10;     // s
  auto& n = memory.numbers;
  const Band band = view.targets.band;
  const double vpd = controlled_vpd(view)->value;
  if (view.new_sample) {
    const double error = (band.low.value + band.high.value) / 2 - vpd;  // positive: vent more
    const double asked = kGain * error + n[0];
    const double given = std::clamp(asked, 0.2, most_venting(view.fan).value / 1000.0);
    n[0] += kSample * (kGain * error / kIntegral + (given - asked) / kTracking);
    n[3] = given;
    if (vpd < band.low.value + 0.02) n[1] = 1;
    if (vpd > (band.low.value + band.high.value) / 2) n[1] = 0;
    if (vpd > band.high.value - 0.02) n[2] = 1;
    if (vpd < (band.low.value + band.high.value) / 2) n[2] = 0;
  }
  const double celsius = view.canopy.temperature->value;
  const double level = celsius > kWarm ? std::max(n[3], 0.2 + 0.7 * (celsius - kWarm)) : n[3];
  ClimateAsk ask;
  ask.fan = {true, level_of(view.fan, level), kWhy};
  ask.dehumidifier = two_positions(n[1] > 0);
  ask.humidifier = two_positions(n[2] > 0 && n[1] <= 0);
  return ask;
}

}  // namespace neap::arena
