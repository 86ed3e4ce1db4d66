// Oxygen in the solution: how long the roots have when the air pump stands.
#pragma once

#include <optional>

#include "daemon/core/instant.h"
#include "daemon/core/units.h"

namespace neap {

// Oxygen that fresh water holds under air at 101.325 kPa, mg/L. Equation of
// Benson and Krause as APHA (1985) has it and EN 25814 tables it: ln DO =
// -139.34411 + 1.575701e5/K - 6.642308e7/K^2 + 1.243800e10/K^3
// - 8.621949e11/K^4. Domain 0..40 C; outside, std::nullopt.
std::optional<double> oxygen_saturation_mg_per_l(Celsius water);

// Roots were unharmed down to this (Goto et al. 1996, Acta Hort. 440:205-210:
// lettuce, 2.1 mg/L).
constexpr double kOxygenRootsNeed = 2.1;
// What a grown table takes out of its solution in an hour at 20 C, and how much
// faster 10 K warmer (common practice, no source: the figure errs towards
// haste, and no flood aerates in it).
constexpr double kOxygenUsePerHour = 1.0;
constexpr double kOxygenUseQ10 = 2.0;

// From saturation down to what roots need, without air and without floods.
std::optional<Millis> oxygen_lasts(Celsius water);

}  // namespace neap
