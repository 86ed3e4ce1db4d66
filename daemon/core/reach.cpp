#include "daemon/core/reach.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/fixed.h"
#include "daemon/core/venting.h"

namespace neap {
namespace {

using tent_model::humidity_percent;
using tent_model::MoistAir;

constexpr int kFanLevels = 6;
constexpr double kInsideBand = 0.05;  // kPa: a cure must do a little more than touch the band
constexpr int kHalvings = 7;
// What can be bought for a tent, and how far a room can be changed: beyond these a cure is none.
constexpr double kLeastDrying = 8;   // g/h, 0.2 L/d
constexpr double kMostDrying = 500;  // g/h, 12 L/d
constexpr double kDryingStep = 1.4;
constexpr double kMostMist = 600;  // g/h
constexpr double kMostKelvin = 8;
constexpr double kMostFlow = 500;  // m3/h
constexpr double kDriestRoom = 0.3;
constexpr double kCoolInside = 0.3;  // K under the limit

using Levels = FixedVector<Permille, kFanLevels>;

// Log-spaced in flow, since VPD goes with its logarithm.
Levels fan_levels(const LegalMove& fan) {
  Levels levels;
  if (!fan.fitted) {
    levels.push(kStopped);
    return levels;
  }
  const int least = least_venting(fan).value;
  const int most = std::max(least, most_venting(fan).value);
  levels.push(Permille{least});
  if (most == least) return levels;
  if (!fan.variable) {
    levels.push(Permille{most});
    return levels;
  }
  const double from = std::max(100, least);
  const double factor = std::pow(most / from, 1.0 / (kFanLevels - 1));
  double level = from;
  for (int i = 1; i < kFanLevels; ++i) {
    level *= factor;
    levels.push(Permille{static_cast<int>(std::lround(level))});
  }
  return levels;
}

// A tent, its room and its devices as they are, or as they might be.
struct Case {
  Beliefs beliefs;
  tent_model::Sources sources;
  MoistAir room;
  Levels levels;
  double warmest_c = 0;
  double shift = 0;
  bool drying = false;
  bool mist = false;
};

// Whether `enough` is true of an air that the case can settle at; it is asked no further then. One
// level of the fan settles near where the one before it did.
template <class Enough>
bool any_air(const Case& c, const Enough& enough) {
  const tent_model::SteadyAir unvented{c.room, c.sources.at_vpd_kpa};
  tent_model::SteadyAir plain = unvented, dried = unvented, misted = unvented;
  const auto at = [&](const tent_model::Means& means, tent_model::SteadyAir& settled) {
    settled = tent_model::steady_air(c.beliefs, c.sources, c.room, means, settled);
    return enough(settled.air.celsius, settled.vpd_kpa + c.shift);
  };
  return std::any_of(c.levels.begin(), c.levels.end(), [&](Permille level) {
    return at({level, false, 0}, plain) || (c.drying && at({level, true, 0}, dried)) ||
           (c.mist && at({level, false, 1}, misted));
  });
}

// The VPD that the case can settle at, all of it, or as far as `enough` asks for it.
template <class Enough>
Span span_of(const Case& c, const Enough& enough) {
  Span span;
  span.coolest_c = 1e3;
  any_air(c, [&](double celsius, double vpd) {
    span.coolest_c = std::min(span.coolest_c, celsius);
    if (celsius > c.warmest_c) return false;
    span.least = span.any ? std::min(span.least, vpd) : vpd;
    span.greatest = span.any ? std::max(span.greatest, vpd) : vpd;
    span.any = true;
    return enough(span);
  });
  return span;
}

Case case_of(const ClimateView& view, const Beliefs& beliefs, const TentEstimate& estimate) {
  Case c;
  c.beliefs = beliefs;
  c.sources = sources_of(estimate);
  c.room = estimate.room;
  c.levels = fan_levels(view.fan);
  c.warmest_c = view.targets.air_highest.value;
  c.shift = leaf_shift_kpa(view);
  c.drying = view.dehumidifier.fitted && view.beliefs.dehumidifier_place == DehumidifierPlace::tent;
  c.mist = view.humidifier.fitted;
  return c;
}

// The smallest of 0..most with which `does` holds, if it holds at the most.
template <class Does>
std::optional<double> smallest(double most, const Does& does) {
  if (!does(most)) return {};
  double low = 0;
  double high = most;
  for (int i = 0; i < kHalvings; ++i) {
    const double middle = (low + high) / 2;
    (does(middle) ? high : low) = middle;
  }
  return high;
}

// Of dryers a larger one may do worse, since it warms the air: so from small ones upwards.
template <class Does>
std::optional<double> smallest_drying(const Does& does) {
  double before = 0;
  for (double g_per_h = kLeastDrying; g_per_h < kMostDrying; g_per_h *= kDryingStep) {
    if (does(g_per_h)) {
      double enough = g_per_h;
      for (int i = 0; i < kHalvings; ++i) {
        const double middle = (before + enough) / 2;
        (does(middle) ? enough : before) = middle;
      }
      return enough;
    }
    before = g_per_h;
  }
  return {};
}

// --- cures: a case changed by so much, and whether that is enough ------------------------------

bool humid_enough(const Case& c, const Band& band) {
  return any_air(c, [&](double celsius, double vpd) {
    return celsius <= c.warmest_c && vpd <= band.high.value - kInsideBand;
  });
}
bool dry_enough(const Case& c, const Band& band) {
  return any_air(c, [&](double celsius, double vpd) {
    return celsius <= c.warmest_c && vpd >= band.low.value + kInsideBand;
  });
}
bool cool_enough(const Case& c) {
  return any_air(c, [&](double celsius, double) { return celsius <= c.warmest_c - kCoolInside; });
}

Case with_drying(Case c, double g_per_h) {
  c.beliefs.dehumidifier_g_per_h = g_per_h;
  c.beliefs.dehumidifier_place = DehumidifierPlace::tent;
  c.beliefs.dehumidifier_kind = DehumidifierKind::compressor;
  c.drying = true;
  return c;
}
Case with_mist(Case c, double g_per_h) {
  c.beliefs.humidifier_g_per_h = g_per_h;
  c.mist = true;
  return c;
}
Case with_room_warmer(Case c, double kelvin) {
  c.room.celsius += kelvin;
  return c;
}
Case with_flow(Case c, double m3_per_h) {
  c.beliefs.fan_m3_per_h = m3_per_h;
  return c;
}
Case with_room_water(Case c, double g_per_kg) {
  c.room.g_per_kg = g_per_kg;
  return c;
}

std::optional<double> more_flow(const Case& c, bool fitted, auto does) {
  if (!fitted) return {};
  return smallest(kMostFlow, [&](double flow) {
    return does(with_flow(c, std::max(flow, c.beliefs.fan_m3_per_h)));
  });
}

Cures cures_of_humid(const Case& c, const ClimateView& view) {
  const Band& band = view.targets.band;
  const auto does = [&](const Case& changed) { return dry_enough(changed, band); };
  Cures cures;
  cures.drying_g_per_h = smallest_drying([&](double g) { return does(with_drying(c, g)); });
  cures.room_kelvin = smallest(kMostKelvin, [&](double k) { return does(with_room_warmer(c, k)); });
  const double water = c.room.g_per_kg;
  const auto drier = smallest(water * (1 - kDriestRoom),
                              [&](double less) { return does(with_room_water(c, water - less)); });
  if (drier) cures.room_percent = humidity_percent({c.room.celsius, water - *drier});
  cures.fan_m3_per_h = more_flow(c, view.fan.fitted, does);
  return cures;
}

Cures cures_of_dry(const Case& c, const ClimateView& view) {
  const Band& band = view.targets.band;
  const auto does = [&](const Case& changed) { return humid_enough(changed, band); };
  Cures cures;
  cures.mist_g_per_h = smallest(kMostMist, [&](double g) { return does(with_mist(c, g)); });
  const double water = c.room.g_per_kg;
  const double saturated = tent_model::g_per_kg(tent_model::saturation_kpa(c.room.celsius));
  const auto moister = smallest(std::max(0.0, saturated - water), [&](double more) {
    return does(with_room_water(c, water + more));
  });
  if (moister) cures.room_percent = humidity_percent({c.room.celsius, water + *moister});
  return cures;
}

Cures cures_of_warm(const Case& c, const ClimateView& view) {
  const auto does = [](const Case& changed) { return cool_enough(changed); };
  Cures cures;
  const auto cooler =
      smallest(kMostKelvin, [&](double k) { return does(with_room_warmer(c, -k)); });
  if (cooler) cures.room_kelvin = -*cooler;
  cures.fan_m3_per_h = more_flow(c, view.fan.fitted, does);
  return cures;
}

}  // namespace

Span reachable(const ClimateView& view, const Beliefs& beliefs, const TentEstimate& estimate,
               bool drying, bool mist) {
  Case c = case_of(view, beliefs, estimate);
  c.drying = c.drying && drying;
  c.mist = c.mist && mist;
  return span_of(c, [](const Span&) { return false; });
}

Reach reach(const ClimateView& view, const TentEstimate& estimate, bool with_cures) {
  const Case c = case_of(view, believed(view.beliefs, estimate.learnt), estimate);
  const Band& band = view.targets.band;
  const bool room_may_dry = view.dehumidifier.fitted && view.dehumidifier.level == kStopped &&
                            view.beliefs.dehumidifier_place == DehumidifierPlace::room;
  const auto too_humid = [&](const Span& span) {
    return span.greatest < band.low.value && !room_may_dry;
  };
  const auto too_dry = [&](const Span& span) { return span.least > band.high.value; };
  // Once a level of the fan is found to reach the band, the other levels would change nothing.
  const Span span =
      span_of(c, [&](const Span& so_far) { return !too_humid(so_far) && !too_dry(so_far); });
  Reach found;
  if (!span.any) {
    found.binding = Binding::too_warm;
    found.best = span.coolest_c;
    if (with_cures) found.cures = cures_of_warm(c, view);
  } else if (too_humid(span)) {
    found.binding = Binding::too_humid;
    found.best = span.greatest;
    if (with_cures) found.cures = cures_of_humid(c, view);
  } else if (too_dry(span)) {
    found.binding = Binding::too_dry;
    found.best = span.least;
    if (with_cures) found.cures = cures_of_dry(c, view);
  }
  return found;
}

}  // namespace neap
