#include "daemon/core/outlook.h"

#include <algorithm>
#include <cmath>

namespace neap {
namespace {

constexpr int kNever = kLookAheadSteps;

Band moved_towards(const Band& from, const Band& to, const Band& whole_from, Millis ramp,
                   Millis time) {
  if (to.high <= to.low) return from;
  if (ramp <= Millis{0}) return to;
  const double part = static_cast<double>(time.count()) / static_cast<double>(ramp.count());
  const auto move = [&](Kilopascal a, Kilopascal b, Kilopascal start) {
    const double most = std::abs((b - start).value) * part;
    return a + Kilopascal{std::clamp((b - a).value, -most, most)};
  };
  return {move(from.low, to.low, whole_from.low), move(from.high, to.high, whole_from.high)};
}

}  // namespace

int steps_up(Millis wait) {
  const auto steps = (wait + kLookAheadStep - Millis{1}) / kLookAheadStep;
  return static_cast<int>(std::clamp<std::int64_t>(steps, 0, kNever));
}

Band band_ahead(const ClimateView& view, Instant at) {
  const ClimateTargets& targets = view.targets;
  const Band& here = targets.day ? targets.band_by_day : targets.band_by_night;
  const Band& there = targets.day ? targets.band_by_night : targets.band_by_day;
  const bool edge = view.future.light_edge_coming && at > view.future.next_light_edge;
  const Instant until = edge ? view.future.next_light_edge : at;
  // No ramp: the band in force is already `here`.
  const Band before = targets.band_ramp > Millis{0}
                          ? moved_towards(targets.band, here, there, targets.band_ramp,
                                          std::max(Millis{0}, until - view.now))
                          : targets.band;
  if (!edge) return before;
  return moved_towards(before, there, here, targets.band_ramp, at - until);
}

Outlook outlook(const ClimateView& view, const TentEstimate& e, double leaf_shift_kpa) {
  Outlook ahead;
  const KnownFuture& future = view.future;
  const auto light = light_step(e.learnt, future.edge_is_lights_on, tent_model::vpd_kpa(e.air));
  const Millis lasts{static_cast<std::int64_t>(e.learnt.flood_lasts_s.value_or(900) * 1000)};
  FloodVapour flood{e.splash, e.wetness};
  const auto within = [&](bool coming, Instant then) {
    return coming && then > view.now && then < view.now + kHorizon ? steps_up(then - view.now)
                                                                   : kNever;
  };
  ahead.ceiling_turn = within(future.fan_ceiling_coming, future.fan_ceiling_changes);
  ahead.turn =
      std::min({within(future.flood_coming, future.next_flood),
                within(future.light_edge_coming, future.next_light_edge), ahead.ceiling_turn});
  for (int k = 0; k < kLookAheadSteps; ++k) {
    const auto at = static_cast<std::size_t>(k);
    const Instant then = view.now + kLookAheadStep * (k + 1);
    const bool in_progress = e.flooding && then < e.flood_started + lasts;
    const bool to_come = future.flood_coming && then > future.next_flood;
    flood.step(in_progress || to_come, kLookAheadStepS);
    ahead.vapour_g_per_h[at] = e.vapour_g_per_h + flood.g_per_h(e.learnt.flood_peak_g_per_h);
    ahead.heat_w[at] = e.heat_w;
    if (light && future.light_edge_coming && then > future.next_light_edge) {
      ahead.vapour_g_per_h[at] += light->vapour_g_per_h;
      ahead.heat_w[at] += light->heat_w;
    }
    ahead.vapour_g_per_h[at] = std::max(0.0, ahead.vapour_g_per_h[at]);
    const Band band = band_ahead(view, then);
    ahead.low_kpa[at] = band.low.value - leaf_shift_kpa;
    ahead.high_kpa[at] = band.high.value - leaf_shift_kpa;
  }
  return ahead;
}

}  // namespace neap
