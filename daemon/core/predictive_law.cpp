#include "daemon/core/predictive_law.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/core/look_ahead.h"
#include "daemon/core/room_dryer.h"
#include "daemon/core/tent_observer.h"
#include "daemon/core/venting.h"

namespace neap {
namespace {

constexpr Millis kRhythm = seconds{30};

// What the law remembers besides the tent: the latest decision.
struct Memo : RoomDryer {  // `dehumidify` speaks of a dehumidifier in the tent, too
  bool decided = false;
  Permille fan;
  double mist_on = 0;  // steps of the pulse begun at `mist_began`
  double mist_period = 0;
  double expected_kpa = 0;  // in terms of the band
  Band band_then;
  bool room_lost = false;
  bool flood_ahead = false;  // within the horizon, in `event_in_s`; or a light edge
  bool light_ahead = false;
  double event_in_s = 0;
  Instant decided_at{};
  Instant mist_began{};
};

constexpr std::array<double Memo::*, 5> kNumbers{
    &Memo::mist_on, &Memo::mist_period, &Memo::expected_kpa, &Memo::need, &Memo::event_in_s};
constexpr std::array<bool Memo::*, 6> kFlags{&Memo::decided,     &Memo::dehumidify,
                                             &Memo::suspect,     &Memo::room_lost,
                                             &Memo::flood_ahead, &Memo::light_ahead};
constexpr std::array<Instant Memo::*, 4> kInstants{&Memo::decided_at, &Memo::mist_began,
                                                   &Memo::suspected, &Memo::changed};
constexpr std::size_t kFanAt = 0;
constexpr std::size_t kLowAt = kFanAt + 1;
constexpr std::size_t kHighAt = kLowAt + 1;
constexpr std::size_t kNumbersAt = kHighAt + 1;
constexpr std::size_t kFlagsAt = kNumbersAt + kNumbers.size();
static_assert(kFlagsAt + kFlags.size() <= kLawNumbers);
static_assert(kInstants.size() <= kLawTicks);

Memo load(const LawMemory& memory) {
  Memo memo;
  std::size_t at = kNumbersAt;
  memo.fan = Permille{static_cast<int>(memory.numbers[kFanAt])};
  memo.band_then = {Kilopascal{memory.numbers[kLowAt]}, Kilopascal{memory.numbers[kHighAt]}};
  for (const auto member : kNumbers) memo.*member = memory.numbers[at++];
  for (const auto member : kFlags) memo.*member = memory.numbers[at++] > 0;
  std::size_t tick = 0;
  for (const auto member : kInstants) memo.*member = instant(Millis{memory.ticks[tick++]});
  return memo;
}

void store(const Memo& memo, LawMemory& memory) {
  std::size_t at = kNumbersAt;
  memory.numbers[kFanAt] = memo.fan.value;
  memory.numbers[kLowAt] = memo.band_then.low.value;
  memory.numbers[kHighAt] = memo.band_then.high.value;
  for (const auto member : kNumbers) memory.numbers[at++] = memo.*member;
  for (const auto member : kFlags) memory.numbers[at++] = memo.*member ? 1 : 0;
  std::size_t tick = 0;
  for (const auto member : kInstants) memory.ticks[tick++] = tick_ms(memo.*member);
}

// --- the decision
// -----------------------------------------------------------------------------------

MistPulse pulse_in_progress(const Memo& memo, Instant now) {
  MistPulse pulse{static_cast<int>(memo.mist_on), static_cast<int>(memo.mist_period), 0};
  pulse.into_steps = static_cast<int>((now - memo.mist_began) / kLookAheadStep);
  return pulse;
}

// What of the known future lies within the horizon; a flood is spoken of first.
void note_future(const KnownFuture& future, Instant now, Memo& memo) {
  const auto within = [&](bool coming, Instant then) {
    return coming && then > now && then - now < kHorizon;
  };
  memo.flood_ahead = within(future.flood_coming, future.next_flood);
  memo.light_ahead = !memo.flood_ahead && within(future.light_edge_coming, future.next_light_edge);
  const Instant then = memo.flood_ahead ? future.next_flood : future.next_light_edge;
  memo.event_in_s =
      memo.flood_ahead || memo.light_ahead ? static_cast<double>((then - now).count()) / 1000 : 0;
}

void decide_now(const ClimateView& view, const TentEstimate& estimate, const Prices& prices,
                Memo& memo) {
  const double shift = leaf_shift_kpa(view);
  const Outlook ahead = outlook(view, estimate, shift);
  const Choice best = look_ahead(view, believed(view.beliefs, estimate.learnt), estimate, ahead,
                                 pulse_in_progress(memo, view.now), prices);
  memo.fan = best.fan;
  memo.expected_kpa = best.vpd_at_end_kpa + shift;
  memo.band_then = band_ahead(view, view.now + kHorizon);
  if (view.beliefs.dehumidifier_place == DehumidifierPlace::room)
    decide_room_dryer(view, estimate, shift, memo);
  else
    memo.dehumidify = best.dehumidifier;
  if (best.pulse.into_steps == 0) {
    memo.mist_on = best.pulse.on_steps;
    memo.mist_period = best.pulse.period_steps;
    memo.mist_began = view.now;
  }
  note_future(view.future, view.now, memo);
  memo.room_lost = !estimate.room_seen;
  memo.decided = true;
  memo.decided_at = view.now;
}

bool time_to_decide(const ClimateView& view, const TentEstimate& before, const TentEstimate& after,
                    const Memo& memo) {
  const bool pulse_over = memo.mist_on > 0 && memo.mist_on < memo.mist_period &&
                          pulse_in_progress(memo, view.now).into_steps >= memo.mist_period;
  const bool event = pulse_over || before.day != after.day || before.flooding != after.flooding;
  return !memo.decided || event || view.now - memo.decided_at >= kRhythm ||
         view.now < memo.decided_at;
}

// --- the wishes
// ------------------------------------------------------------------------------------

Because expectation(const Memo& memo) {
  if (memo.room_lost) return because(Reason::look_ahead_without_room, memo.expected_kpa);
  if (memo.flood_ahead)
    return because(Reason::look_ahead_flood, memo.event_in_s, memo.expected_kpa);
  if (memo.light_ahead)
    return because(Reason::look_ahead_light, memo.event_in_s, memo.expected_kpa);
  return because(Reason::look_ahead, memo.expected_kpa, memo.band_then.low.value,
                 memo.band_then.high.value);
}

Permille within_limits(const LegalMove& fan, Permille level) {
  if (fan.variable) return std::clamp(level, least_venting(fan), most_venting(fan));
  return std::min(level, most_venting(fan));
}

Wish dehumidifier_wish(const ClimateView& view, const Memo& memo, const Because& why) {
  if (view.beliefs.dehumidifier_place == DehumidifierPlace::room) return room_dryer_wish(memo);
  return {true, memo.dehumidify ? kRunning : kStopped, why};
}

Wish humidifier_wish(const ClimateView& view, const Memo& memo, const Because& why,
                     Instant& decide_again) {
  if (memo.mist_on <= 0) return {true, kStopped, why};
  if (memo.mist_on >= memo.mist_period) return {true, kRunning, why};
  const Instant end =
      next_whole_second(memo.mist_began + kLookAheadStep * static_cast<int>(memo.mist_on));
  const bool runs = view.now < end;
  if (runs) decide_again = std::min(decide_again, end);
  return {true, runs ? kRunning : kStopped, why};
}

}  // namespace

ClimateAsk PredictiveLaw::decide(const ClimateView& view, LawMemory& memory) const {
  TentEstimate estimate = load_estimate(memory);
  Memo memo = load(memory);
  if (view.new_sample || !estimate.running) {
    const TentEstimate before = estimate;
    observe(view, estimate, ProbeLag::learnt);
    if (time_to_decide(view, before, estimate, memo)) decide_now(view, estimate, prices_, memo);
    store_estimate(estimate, memory);
    store(memo, memory);
  }
  ClimateAsk ask;
  const Because why = expectation(memo);
  ask.fan = {true, within_limits(view.fan, memo.fan), why};
  ask.dehumidifier = dehumidifier_wish(view, memo, why);
  ask.humidifier = humidifier_wish(view, memo, why, ask.decide_again);
  return ask;
}

}  // namespace neap
