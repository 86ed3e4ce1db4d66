#include "daemon/core/venting.h"

#include <algorithm>

#include "daemon/core/psychrometrics.h"

namespace neap {
namespace {

constexpr double kWallWattPerKelvin = 25;
constexpr double kAirJoulePerCubicMetreKelvin = 1.2 * 1006;
constexpr double kMoistensBelow = -0.04;  // kPa per unit ln(flow)
constexpr double kCeilingOfVenting = 0.9;
constexpr double kCooler = 0.3;  // K, more than two good probes' noise

}  // namespace

Permille most_venting(const LegalMove& fan) {
  if (fan.variable) return fan.ceiling;
  return fan.ceiling == kStopped ? kStopped : kRunning;
}

Permille least_venting(const LegalMove& fan) {
  return fan.variable ? std::min(fan.floor, fan.ceiling) : kStopped;
}

std::optional<double> venting_gain(const ClimateView& view) {
  const Air& tent = view.canopy;
  const Air& room = view.room;
  if (!tent.temperature || !tent.humidity || !room.temperature || !room.humidity) return {};
  const auto e_tent = vapour_pressure(*tent.temperature, *tent.humidity);
  const auto e_room = vapour_pressure(*room.temperature, *room.humidity);
  const auto slope = saturation_slope(*tent.temperature);
  if (!e_tent || !e_room || !slope) return {};
  const double flow_m3_per_s = view.beliefs.fan_m3_per_h / 2 / 3600;
  const double carried = kAirJoulePerCubicMetreKelvin * flow_m3_per_s;
  const double kappa = carried / (carried + kWallWattPerKelvin);
  return (*e_tent - *e_room).value - kappa * *slope * (*tent.temperature - *room.temperature).value;
}

bool venting_moistens(const std::optional<double>& gain, bool moistened_before) {
  if (!gain) return false;
  return moistened_before ? *gain <= 0 : *gain < kMoistensBelow;
}

bool room_would_cool(const ClimateView& view) {
  return !view.room.temperature ||
         *view.room.temperature < *view.canopy.temperature - Celsius{kCooler};
}

std::optional<Kilopascal> reachable_by_venting(const ClimateView& view) {
  if (view.targets.day || !view.room.vpd) return {};
  const Kilopascal air = *view.room.vpd * kCeilingOfVenting;
  if (view.targets.band_of == BandOf::air) return air;
  if (!view.canopy.leaf_vpd || !view.canopy.vpd) return {};
  return air + (*view.canopy.leaf_vpd - *view.canopy.vpd);
}

}  // namespace neap
