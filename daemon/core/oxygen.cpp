#include "daemon/core/oxygen.h"

#include <cmath>

namespace neap {

std::optional<double> oxygen_saturation_mg_per_l(Celsius water) {
  if (!(water.value >= 0 && water.value <= 40)) return std::nullopt;
  const double k = water.value + 273.15;
  return std::exp(-139.34411 + 1.575701e5 / k - 6.642308e7 / (k * k) + 1.243800e10 / (k * k * k) -
                  8.621949e11 / (k * k * k * k));
}

std::optional<Millis> oxygen_lasts(Celsius water) {
  const std::optional<double> held = oxygen_saturation_mg_per_l(water);
  if (!held) return std::nullopt;
  const double use = kOxygenUsePerHour * std::pow(kOxygenUseQ10, (water.value - 20) / 10);
  return Millis{std::llround((*held - kOxygenRootsNeed) / use * 3'600'000)};
}

}  // namespace neap
