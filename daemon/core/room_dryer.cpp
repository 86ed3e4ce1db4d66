#include "daemon/core/room_dryer.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/venting.h"

namespace neap {
namespace {

// Wanted when the lower part of the band needs nearly all of the fan, no more wanted when a gentle
// fan would reach the upper part; held so long either way. Two goals far apart, so that the room
// swings slowly: one goal in the middle gave three times the starts (simulated).
constexpr double kNeedsStart = 0.95;  // part of the fan's range
constexpr double kNeedsStop = 0.28;
constexpr double kStartGoal = 0.25;  // part of the band's width over its low edge
constexpr double kStopGoal = 0.8;
constexpr double kOverLow = 0.1;  // kPa
constexpr Millis kDelay = seconds{90};
constexpr Millis kDwell = minutes{10};
constexpr int kNeedStep = 50;  // permille

// Least part of the fan's range with which the tent settles at `goal_kpa` or drier; more than all
// of it when none does.
double venting_needed(const ClimateView& view, const TentEstimate& estimate, double goal_kpa) {
  constexpr double kOutOfReach = 1.5;
  if (!view.fan.fitted) return kOutOfReach;
  const tent_model::Sources sources = sources_of(estimate);
  const int least = view.fan.variable ? least_venting(view.fan).value : 0;
  const int most = std::max(least, most_venting(view.fan).value);
  for (int level = least; level <= most; level += kNeedStep) {
    const tent_model::SteadyAir air =
        tent_model::steady_air(view.beliefs, sources, estimate.room, {.fan = Permille{level}});
    if (air.vpd_kpa >= goal_kpa) return level / 1000.0;
  }
  return kOutOfReach;
}

}  // namespace

void decide_room_dryer(const ClimateView& view, const TentEstimate& estimate, double shift_kpa,
                       RoomDryer& dryer) {
  const Band& band = view.targets.band;
  const double vpd = tent_model::vpd_kpa(estimate.air) + shift_kpa;
  const bool runs = view.dehumidifier.level != kStopped;
  if (runs != dryer.dehumidify) {
    dryer.dehumidify = runs;  // someone else decided, or the first look
    dryer.changed = view.now;
    dryer.suspect = false;
  }
  const double part = runs ? kStopGoal : kStartGoal;
  const double goal = band.low.value + (band.high - band.low).value * part;
  dryer.need = venting_needed(view, estimate, goal - shift_kpa);
  const double gentle = std::max(kNeedsStop, least_venting(view.fan).value / 1000.0);
  const bool dry = dryer.need <= gentle && vpd > band.low.value + kOverLow;
  const bool change =
      runs ? dry || vpd > band.high.value : dryer.need > kNeedsStart || vpd < band.low.value;
  if (change && !dryer.suspect) dryer.suspected = view.now;
  dryer.suspect = change;
  if (!change || view.now - dryer.suspected < kDelay || view.now - dryer.changed < kDwell) return;
  if (!(runs ? view.dehumidifier.may_stop : view.dehumidifier.may_start)) return;
  dryer.dehumidify = !runs;
  dryer.changed = view.now;
  dryer.suspect = false;
}

Wish room_dryer_wish(const RoomDryer& dryer) {
  const Permille level = dryer.dehumidify ? kRunning : kStopped;
  if (dryer.need > 1) return {true, level, because(Reason::venting_cannot_reach_band)};
  return {true, level, because(Reason::venting_needed, std::round(dryer.need * 100))};
}

}  // namespace neap
