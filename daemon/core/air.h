// What the air is like: everything derived from one pair of temperature and humidity readings.
#pragma once

#include <optional>

#include "daemon/core/climate.h"
#include "daemon/core/instant.h"
#include "daemon/core/reading.h"
#include "daemon/core/units.h"

namespace neap {

// Derives VPD, leaf VPD, dew point and vapour density (daemon/core/psychrometrics.h names the
// formulas). A derived reading has the worse quality and the older instant of what it came from, at
// latest `now`; without one of them it is absent for that one's fault, outside the formulas' domain
// it is Fault::out_of_range.
// Leaf VPD takes the leaf sensor if it has a value, else the air plus `leaf_offset` (leaf minus
// air). With neither it is absent for the leaf sensor's fault.
Air derive_air(const Reading<Celsius>& temperature, const Reading<PercentRh>& humidity,
               const Reading<Celsius>& leaf, std::optional<Celsius> leaf_offset, Instant now);

// What derive_air() would make of these is `air` already.
bool derived_from(const Air& air, const Reading<Celsius>& temperature,
                  const Reading<PercentRh>& humidity, const Reading<Celsius>& leaf,
                  std::optional<Celsius> leaf_offset);

}  // namespace neap
