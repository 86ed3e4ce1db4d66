#include "daemon/core/diagnosis.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "daemon/core/reach.h"
#include "daemon/core/tent_observer.h"
#include "daemon/core/venting.h"

namespace neap {
namespace {

constexpr Millis kOutOfReachAfter = minutes{20};
constexpr Millis kLookEvery = minutes{5};
constexpr int kLooks = 4;
constexpr double kStillWet = 0.1;         // of a flooded medium: 46 min after it has drained
constexpr Millis kCuresEvery = hours{1};  // looking for them costs much more than a look

struct Findings {
  Binding spent = Binding::nothing;  // every means against it is in use since `spent_since`
  Instant spent_since{};
  Reach beyond;   // by the model
  int looks = 0;  // that found `beyond.binding`, in a row
  Instant looked{};
};

// --- memory
// -----------------------------------------------------------------------------------------

constexpr std::array kCures{&Cures::drying_g_per_h, &Cures::mist_g_per_h, &Cures::room_kelvin,
                            &Cures::room_percent, &Cures::fan_m3_per_h};
constexpr std::size_t kSpentAt = kLawNumbers + kObserverNumbers;
constexpr std::size_t kBeyondAt = kSpentAt + 1;
constexpr std::size_t kBestAt = kSpentAt + 2;
constexpr std::size_t kCuresAt = kSpentAt + 3;
static_assert(kCuresAt + kCures.size() == kDoubtNumbersAt);
constexpr std::size_t kSpentTick = kLawTicks + kObserverTicks + 1;  // after run_climate()'s flags
constexpr std::size_t kLookedTick = kSpentTick + 1;
constexpr std::size_t kCountTick = kSpentTick + 2;  // looks, and which cures there are
constexpr std::int64_t kLooksUnit = 1 << kCures.size();
static_assert(kCountTick < kDoubtTicksAt);

Binding binding_at(const LawMemory& memory, std::size_t at) {
  return static_cast<Binding>(static_cast<int>(memory.numbers[at]));
}

Findings load(const LawMemory& memory) {
  Findings found;
  found.spent = binding_at(memory, kSpentAt);
  found.spent_since = instant(Millis{memory.ticks[kSpentTick]});
  found.beyond.binding = binding_at(memory, kBeyondAt);
  found.beyond.best = memory.numbers[kBestAt];
  const std::int64_t count = std::max<std::int64_t>(0, memory.ticks[kCountTick]);
  for (std::size_t i = 0; i < kCures.size(); ++i)
    if ((count >> i & 1) != 0) found.beyond.cures.*kCures[i] = memory.numbers[kCuresAt + i];
  found.looks = static_cast<int>(std::min<std::int64_t>(count / kLooksUnit, kLooks));
  found.looked = instant(Millis{memory.ticks[kLookedTick]});
  return found;
}

void store(const Findings& found, LawMemory& memory) {
  memory.numbers[kSpentAt] = static_cast<double>(found.spent);
  memory.ticks[kSpentTick] = tick_ms(found.spent_since);
  memory.numbers[kBeyondAt] = static_cast<double>(found.beyond.binding);
  memory.numbers[kBestAt] = found.beyond.best;
  std::int64_t count = found.looks * kLooksUnit;
  for (std::size_t i = 0; i < kCures.size(); ++i) {
    const std::optional<double>& cure = found.beyond.cures.*kCures[i];
    memory.numbers[kCuresAt + i] = cure.value_or(0);
    if (cure) count |= std::int64_t{1} << i;
  }
  memory.ticks[kCountTick] = count;
  memory.ticks[kLookedTick] = tick_ms(found.looked);
}

// --- the facts
// --------------------------------------------------------------------------------------

bool runs_or_missing(const LegalMove& move) { return !move.fitted || move.level != kStopped; }

// What keeps the air from where it should be although nothing is left to try; nothing otherwise.
Binding spent_against(const ClimateView& view, const LimitsInForce& limits) {
  const LegalMove& fan = view.fan;
  const bool fan_most = !fan.fitted || fan.level >= most_venting(fan);
  const bool fan_least = !fan.fitted || fan.level <= least_venting(fan);
  if (limits.too_warm)
    return fan_most || !room_would_cool(view) ? Binding::too_warm : Binding::nothing;
  const Kilopascal vpd = *controlled_vpd(view);
  if (vpd < view.targets.band.low) {
    const bool dries_inside = view.dehumidifier.fitted && view.dehumidifier.level != kStopped &&
                              view.beliefs.dehumidifier_place == DehumidifierPlace::tent;
    const bool fan_spent = limits.moistens || dries_inside ? fan_least : fan_most;
    return fan_spent && runs_or_missing(view.dehumidifier) ? Binding::too_humid : Binding::nothing;
  }
  if (vpd > view.targets.band.high) {
    // A humidifier that runs and does not bring the air into the band is empty, broken or too
    // small, wherever the law has the fan.
    if (view.humidifier.fitted)
      return view.humidifier.level != kStopped ? Binding::too_dry : Binding::nothing;
    const bool fan_spent = limits.moistens ? fan_most : fan_least;
    return fan_spent ? Binding::too_dry : Binding::nothing;
  }
  return Binding::nothing;
}

Because explain_spent(const ClimateView& view, Binding binding) {
  const Band& band = view.targets.band;
  switch (binding) {
    case Binding::nothing:
      return {};
    case Binding::no_reading:
      return because(Reason::no_canopy_reading);
    case Binding::too_warm:
      return because(Reason::air_too_warm, view.canopy.temperature->value,
                     view.targets.air_highest.value);
    case Binding::too_humid: {
      const std::optional<Kilopascal> reachable = reachable_by_venting(view);
      if (!view.dehumidifier.fitted && reachable && *reachable < band.low)
        return because(Reason::venting_too_weak, reachable->value, band.low.value);
      return because(Reason::vpd_below_band, controlled_vpd(view)->value, band.low.value,
                     band.high.value);
    }
    case Binding::too_dry:
      return because(Reason::vpd_above_band, controlled_vpd(view)->value, band.low.value,
                     band.high.value);
  }
  return {};
}

// --- the model
// --------------------------------------------------------------------------------------

// A flood's vapour brings dry air into the band for as long as it lasts: that interrupts what keeps
// the band out of reach and cures nothing, so the first look after it says so again.
bool interrupted(const TentEstimate& estimate, const Reach& now, const Findings& found) {
  return estimate.wetness > kStillWet && now.binding == Binding::nothing &&
         found.beyond.binding == Binding::too_dry;
}

void look(const ClimateView& view, const TentEstimate& estimate, Findings& found) {
  if (!estimate.room_seen) {
    found.beyond = {};
    found.looks = 0;
    return;
  }
  if (view.now - found.looked < kLookEvery) return;
  const bool cures_due = found.looks < kLooks || tick_ms(view.now) / kCuresEvery.count() !=
                                                     tick_ms(found.looked) / kCuresEvery.count();
  Reach now = reach(view, estimate, cures_due && found.looks + 1 >= kLooks);
  found.looked = view.now;
  if (interrupted(estimate, now, found)) {
    found.looks = std::min(found.looks, kLooks - 1);
    return;
  }
  if (!cures_due && now.binding == found.beyond.binding) now.cures = found.beyond.cures;
  found.looks = now.binding == Binding::nothing       ? 0
                : now.binding == found.beyond.binding ? std::min(found.looks + 1, kLooks)
                                                      : 1;
  found.beyond = now;
}

double litres_a_day(double g_per_h) { return g_per_h * 24 / 1000; }

// The cure that money buys stands in the sentence; the others beside it.
Because explain_beyond(const Reach& beyond, const ClimateTargets& targets) {
  const Cures& cures = beyond.cures;
  switch (beyond.binding) {
    case Binding::nothing:
    case Binding::no_reading:
      return {};
    case Binding::too_warm:
      return because(Reason::reach_too_warm, beyond.best, targets.air_highest.value,
                     std::abs(cures.room_kelvin.value_or(0)));
    case Binding::too_humid:
      return because(Reason::reach_too_humid, beyond.best, targets.band.low.value,
                     litres_a_day(cures.drying_g_per_h.value_or(0)));
    case Binding::too_dry:
      return because(Reason::reach_too_dry, beyond.best, targets.band.high.value,
                     cures.mist_g_per_h.value_or(0));
  }
  return {};
}

void list_cures(const Reach& beyond, CureList& list) {
  const Cures& cures = beyond.cures;
  const bool humid = beyond.binding == Binding::too_humid;
  if (cures.room_percent)
    list.push(
        because(humid ? Reason::cure_room_drier : Reason::cure_room_moister, *cures.room_percent));
  if (cures.room_kelvin && humid) list.push(because(Reason::cure_room_warmer, *cures.room_kelvin));
  if (cures.fan_m3_per_h) list.push(because(Reason::cure_flow, *cures.fan_m3_per_h));
}

}  // namespace

void diagnose(const ClimateView& view, const LimitsInForce& limits, LawMemory& memory,
              ClimateAsk& ask) {
  Findings found = load(memory);
  if (view.new_sample) {
    const Binding spent = spent_against(view, limits);
    if (spent != found.spent) found.spent_since = view.now;
    found.spent = spent;
    look(view, load_estimate(memory), found);
    store(found, memory);
  }
  if (ask.binding != Binding::nothing) return;
  if (found.looks >= kLooks) {
    ask.binding = found.beyond.binding;
    ask.diagnosis = explain_beyond(found.beyond, view.targets);
    list_cures(found.beyond, ask.cures);
    return;
  }
  if (found.spent == Binding::nothing) return;
  const Instant due = next_whole_second(found.spent_since + kOutOfReachAfter);
  if (view.now < due) {
    ask.decide_again = std::min(ask.decide_again, due);
    return;
  }
  ask.binding = found.spent;
  ask.diagnosis = explain_spent(view, found.spent);
}

void forget_diagnosis(LawMemory& memory) { store({}, memory); }

}  // namespace neap
