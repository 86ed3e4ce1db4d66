// What the observer keeps in the law's memory, and so in the state file.
#include <array>

#include "daemon/core/tent_observer.h"

namespace neap {
namespace {

// Slots are in this order and never move: they are in state files.
constexpr std::array kLearntNumbers{
    &TentLearnt::flood_peak_g_per_h,
    &TentLearnt::drying_scale,
};
constexpr std::array kLearntMaybe{
    &TentLearnt::day_vapour_g_per_h, &TentLearnt::night_vapour_g_per_h, &TentLearnt::day_heat_w,
    &TentLearnt::night_heat_w,       &TentLearnt::flood_lasts_s,
};
constexpr std::array kLearntSlopes{&TentLearnt::vapour_slope2, &TentLearnt::heat_slope2};
constexpr std::array kLearntLags{&TentLearnt::vapour_lag_s, &TentLearnt::heat_lag_s};
constexpr std::array kNumbers{
    &TentEstimate::seen_c,
    &TentEstimate::seen_percent,
    &TentEstimate::vpd_read,
    &TentEstimate::noise_kpa2,
    &TentEstimate::vapour_g_per_h,
    &TentEstimate::heat_w,
    &TentEstimate::splash,
    &TentEstimate::wetness,
    &TentEstimate::run_up,
    &TentEstimate::metal_w,
    &TentEstimate::vapour_before_flood,
    &TentEstimate::coil_g,
    &TentEstimate::walls_c,
};
constexpr std::array kAirs{&TentEstimate::air, &TentEstimate::lagged, &TentEstimate::room};
constexpr std::array kFlags{
    &TentEstimate::running, &TentEstimate::room_known, &TentEstimate::room_seen,
    &TentEstimate::day,     &TentEstimate::flooding,   &TentEstimate::peak_due,
};
constexpr std::array kInstants{&TentEstimate::sampled, &TentEstimate::edge,
                               &TentEstimate::flood_started};

constexpr std::size_t kLearntAt = kLawNumbers;
constexpr std::size_t kLearntMaybeAt = kLearntAt + kLearntNumbers.size();
constexpr std::size_t kNumbersAt = kLearntMaybeAt + kLearntMaybe.size();
constexpr std::size_t kAirsAt = kNumbersAt + kNumbers.size();
constexpr std::size_t kSlopesAt = kAirsAt + 2 * kAirs.size();
static_assert(kSlopesAt + kLearntSlopes.size() + kLearntLags.size() <=
              kLearntAt + kObserverNumbers);
constexpr std::size_t kFlagsTick = kLawTicks;
constexpr std::size_t kInstantsTick = kFlagsTick + 1;
static_assert(kInstantsTick + kInstants.size() <= kLawTicks + kObserverTicks);

}  // namespace

TentEstimate load_estimate(const LawMemory& memory) {
  TentEstimate e;
  if (memory.ticks[kFlagsTick] == 0) return e;  // nothing was ever stored: `running` would be set
  std::size_t at = kLearntAt;
  for (const auto member : kLearntNumbers) e.learnt.*member = memory.numbers[at++];
  std::int64_t flags = memory.ticks[kFlagsTick];
  for (const auto member : kLearntMaybe) {
    if ((flags & 1) != 0) e.learnt.*member = memory.numbers[at];
    ++at;
    flags >>= 1;
  }
  for (const auto member : kNumbers) e.*member = memory.numbers[at++];
  for (const auto member : kAirs) {
    (e.*member).celsius = memory.numbers[at++];
    (e.*member).g_per_kg = memory.numbers[at++];
  }
  for (const auto member : kFlags) {
    e.*member = (flags & 1) != 0;
    flags >>= 1;
  }
  for (const auto member : kLearntSlopes) e.learnt.*member = memory.numbers[at++];
  for (const auto member : kLearntLags) {
    if ((flags & 1) != 0) e.learnt.*member = memory.numbers[at];
    ++at;
    flags >>= 1;
  }
  std::size_t tick = kInstantsTick;
  for (const auto member : kInstants) e.*member = instant(Millis{memory.ticks[tick++]});
  return e;
}

void store_estimate(const TentEstimate& e, LawMemory& memory) {
  std::size_t at = kLearntAt;
  std::int64_t flags = 0;
  int bit = 0;
  const auto put = [&](bool on) { flags |= static_cast<std::int64_t>(on) << bit++; };
  for (const auto member : kLearntNumbers) memory.numbers[at++] = e.learnt.*member;
  for (const auto member : kLearntMaybe) {
    put((e.learnt.*member).has_value());
    memory.numbers[at++] = (e.learnt.*member).value_or(0);
  }
  for (const auto member : kNumbers) memory.numbers[at++] = e.*member;
  for (const auto member : kAirs) {
    memory.numbers[at++] = (e.*member).celsius;
    memory.numbers[at++] = (e.*member).g_per_kg;
  }
  for (const auto member : kFlags) put(e.*member);
  for (const auto member : kLearntSlopes) memory.numbers[at++] = e.learnt.*member;
  for (const auto member : kLearntLags) {
    put((e.learnt.*member).has_value());
    memory.numbers[at++] = (e.learnt.*member).value_or(0);
  }
  memory.ticks[kFlagsTick] = flags;
  std::size_t tick = kInstantsTick;
  for (const auto member : kInstants) memory.ticks[tick++] = tick_ms(e.*member);
}

}  // namespace neap
