#include "daemon/core/air.h"

#include <algorithm>

#include "daemon/core/psychrometrics.h"

namespace neap {
namespace {

// What a derived reading inherits from its sources.
struct Origin {
  Quality quality = Quality::good;
  Instant taken{};
  std::optional<Fault> missing;  // why the first source without a value has none
};

Origin starting_at(Instant now) { return {Quality::good, now, std::nullopt}; }

template <class T>
Origin with(Origin so_far, const Reading<T>& source) {
  if (!source.usable()) {
    if (!so_far.missing) so_far.missing = source.fault();
    return so_far;
  }
  so_far.quality = std::min(so_far.quality, source.quality());
  so_far.taken = std::min(so_far.taken, source.taken());
  return so_far;
}

template <class T>
Reading<T> derived(const Origin& origin, const std::optional<T>& value) {
  if (!value) return Reading<T>::absent(Fault::out_of_range);
  return Reading<T>::of(*value, origin.quality, origin.taken);
}

// A supposed leaf is as sure and as old as the air.
Reading<Celsius> leaf_of(const Reading<Celsius>& air, const Reading<Celsius>& sensor,
                         std::optional<Celsius> offset) {
  if (sensor.usable() || !offset || !air.usable()) return sensor;
  return Reading<Celsius>::of(*air + *offset, air.quality(), air.taken());
}

Reading<Kilopascal> leaf_vpd_of(const Air& air, const Origin& origin) {
  if (!air.leaf.usable()) return Reading<Kilopascal>::absent(air.leaf.fault());
  return derived(with(origin, air.leaf), leaf_vpd(*air.temperature, *air.humidity, *air.leaf));
}

}  // namespace

Air derive_air(const Reading<Celsius>& temperature, const Reading<PercentRh>& humidity,
               const Reading<Celsius>& leaf, std::optional<Celsius> leaf_offset, Instant now) {
  Air air;
  air.temperature = temperature;
  air.humidity = humidity;
  air.leaf = leaf_of(temperature, leaf, leaf_offset);
  const Origin origin = with(with(starting_at(now), temperature), humidity);
  if (origin.missing) {
    air.vpd = Reading<Kilopascal>::absent(*origin.missing);
    air.leaf_vpd = Reading<Kilopascal>::absent(*origin.missing);
    air.dew_point = Reading<Celsius>::absent(*origin.missing);
    air.vapour_density = Reading<GramsPerCubicMetre>::absent(*origin.missing);
    return air;
  }
  air.vpd = derived(origin, air_vpd(*temperature, *humidity));
  air.leaf_vpd = leaf_vpd_of(air, origin);
  air.dew_point = derived(origin, dew_point(*temperature, *humidity));
  air.vapour_density = derived(origin, vapour_density(*temperature, *humidity));
  return air;
}

bool derived_from(const Air& air, const Reading<Celsius>& temperature,
                  const Reading<PercentRh>& humidity, const Reading<Celsius>& leaf,
                  std::optional<Celsius> leaf_offset) {
  return air.temperature == temperature && air.humidity == humidity &&
         air.leaf == leaf_of(temperature, leaf, leaf_offset);
}

}  // namespace neap
