// Air and a view made by hand, for the climate tests: a story sets what the probes say and what the
// devices did, and looks at what is asked.
#pragma once

#include <optional>

#include "daemon/core/air.h"
#include "daemon/core/climate.h"
#include "daemon/core/instant.h"
#include "daemon/core/psychrometrics.h"

namespace neap::climate_bench {

constexpr Instant kStart = instant(Millis{4294967000});

inline Air air_of(double celsius, double rh, Instant taken = kStart) {
  return derive_air(Reading<Celsius>::of(Celsius{celsius}, Quality::good, taken),
                    Reading<PercentRh>::of(PercentRh{rh}, Quality::good, taken),
                    Reading<Celsius>::absent(Fault::not_fitted), {}, taken);
}
// Air at 22 C with this VPD.
inline Air air_with_vpd(double kpa, Instant taken = kStart) {
  const double saturation = saturation_pressure(Celsius{22})->value;
  return air_of(22, 100 * (1 - kpa / saturation), taken);
}

inline LegalMove free_fan() {
  LegalMove fan;
  fan.fitted = fan.variable = fan.may_start = fan.may_stop = true;
  fan.level = fan.floor = Permille{200};
  fan.ceiling = Permille{900};
  return fan;
}
inline LegalMove free_device() {
  LegalMove device;
  device.fitted = device.may_start = device.may_stop = true;
  return device;
}

// Band 0.8 to 1.2 kPa: with the usual hysteresis of 0.25 drying is wanted below 0.9, moistening
// above 1.1, each until 1.0; the dehumidifier starts below 0.825.
inline ClimateView usual_view() {
  ClimateView view;
  view.canopy = air_with_vpd(1.0);
  view.targets.band = {Kilopascal{0.8}, Kilopascal{1.2}};
  view.targets.day = true;
  view.fan = free_fan();
  view.dehumidifier = free_device();
  view.humidifier = free_device();
  view.now = next_whole_second(kStart);
  view.new_sample = true;
  return view;
}

}  // namespace neap::climate_bench
