#include "daemon/core/two_position_law.h"

#include <algorithm>
#include <optional>

#include "daemon/core/venting.h"

namespace neap {
namespace {

constexpr Millis kFanLeastBeforeHumidifier = minutes{2};
constexpr Millis kStoppedBeforeHumidifier = minutes{5};

using Since = std::optional<Instant>;

// The law's memory by name. Figures are those of the latest sample: between samples the band may
// ramp and a decision must not depend on when it is asked for.
struct Memo {
  bool sampled = false;
  bool drying_wanted = false;
  bool moistening_wanted = false;
  bool moistens = false;    // venting does
  bool dehumidify = false;  // asked
  bool humidify = false;    // asked
  bool dehumidifier_disobeys =
      false;  // its level has not followed what was asked: an operator's hold
  Kilopascal vpd;
  Band band;
  std::optional<Kilopascal> reachable;
  Since fan_most;  // fan seen at its most since
  Since fan_least;
  Since dehumidifier_stopped;
};

// --- memory to memo and back
// ----------------------------------------------------------------------

enum Flag : std::int64_t {
  kSampled = 1 << 0,
  kDryingWanted = 1 << 1,
  kMoisteningWanted = 1 << 2,
  kMoistens = 1 << 3,
  kDehumidify = 1 << 4,
  kHumidify = 1 << 5,
  kDisobeys = 1 << 6,
  kReachableKnown = 1 << 7,
  kFanMostSeen = 1 << 8,
  kFanLeastSeen = 1 << 9,
  kDehumidifierStoppedSeen = 1 << 10,
};
enum NumberAt : std::size_t { kVpd = 0, kLow = 1, kHigh = 2, kReachable = 3 };
enum TickAt : std::size_t { kFlags = 0, kFanMost = 1, kFanLeast = 2, kDehumidifierStopped = 3 };

Memo load(const LawMemory& memory) {
  const auto has = [&](Flag flag) { return (memory.ticks[kFlags] & flag) != 0; };
  const auto since = [&](Flag seen, TickAt at) {
    return has(seen) ? Since{instant(Millis{memory.ticks[at]})} : Since{};
  };
  Memo memo;
  memo.sampled = has(kSampled);
  memo.drying_wanted = has(kDryingWanted);
  memo.moistening_wanted = has(kMoisteningWanted);
  memo.moistens = has(kMoistens);
  memo.dehumidify = has(kDehumidify);
  memo.humidify = has(kHumidify);
  memo.dehumidifier_disobeys = has(kDisobeys);
  memo.vpd = Kilopascal{memory.numbers[kVpd]};
  memo.band = {Kilopascal{memory.numbers[kLow]}, Kilopascal{memory.numbers[kHigh]}};
  if (has(kReachableKnown)) memo.reachable = Kilopascal{memory.numbers[kReachable]};
  memo.fan_most = since(kFanMostSeen, kFanMost);
  memo.fan_least = since(kFanLeastSeen, kFanLeast);
  memo.dehumidifier_stopped = since(kDehumidifierStoppedSeen, kDehumidifierStopped);
  return memo;
}

void store(const Memo& memo, LawMemory& memory) {
  std::int64_t flags = 0;
  const auto put = [&](bool on, Flag flag) {
    if (on) flags |= flag;
  };
  const auto put_since = [&](const Since& since, Flag seen, TickAt at) {
    put(since.has_value(), seen);
    memory.ticks[at] = since ? tick_ms(*since) : 0;
  };
  put(memo.sampled, kSampled);
  put(memo.drying_wanted, kDryingWanted);
  put(memo.moistening_wanted, kMoisteningWanted);
  put(memo.moistens, kMoistens);
  put(memo.dehumidify, kDehumidify);
  put(memo.humidify, kHumidify);
  put(memo.dehumidifier_disobeys, kDisobeys);
  put(memo.reachable.has_value(), kReachableKnown);
  memory.numbers[kVpd] = memo.vpd.value;
  memory.numbers[kLow] = memo.band.low.value;
  memory.numbers[kHigh] = memo.band.high.value;
  memory.numbers[kReachable] = memo.reachable.value_or(Kilopascal{0}).value;
  put_since(memo.fan_most, kFanMostSeen, kFanMost);
  put_since(memo.fan_least, kFanLeastSeen, kFanLeast);
  put_since(memo.dehumidifier_stopped, kDehumidifierStoppedSeen, kDehumidifierStopped);
  memory.ticks[kFlags] = flags;
}

// --- one sample
// -------------------------------------------------------------------------------------

Kilopascal middle(const Band& band) { return band.low + (band.high - band.low) * 0.5; }

void follow(Since& since, bool holds, Instant now) {
  if (!holds)
    since.reset();
  else if (!since)
    since = now;
}

void take_sample(const ClimateView& view, Memo& memo) {
  const LegalMove& dryer = view.dehumidifier;
  const bool runs = dryer.level != kStopped;
  memo.dehumidifier_disobeys =
      memo.sampled && runs != memo.dehumidify && (runs ? dryer.may_stop : dryer.may_start);
  follow(memo.fan_most, view.fan.level >= most_venting(view.fan), view.now);
  follow(memo.fan_least, view.fan.level <= least_venting(view.fan), view.now);
  follow(memo.dehumidifier_stopped, !runs, view.now);
  memo.sampled = true;
  memo.vpd = *controlled_vpd(view);
  memo.band = view.targets.band;
  memo.reachable = reachable_by_venting(view);
  const std::optional<double> gain = venting_gain(view);
  // Not knowing the room: a dehumidifier that runs in the tent has made it drier and warmer than
  // that.
  memo.moistens = gain ? venting_moistens(gain, memo.moistens)
                       : runs && view.beliefs.dehumidifier_place == DehumidifierPlace::tent;

  const Kilopascal margin = (memo.band.high - memo.band.low) * view.tuning.hysteresis;
  const Kilopascal mid = middle(memo.band);
  memo.drying_wanted = memo.vpd < (memo.drying_wanted ? mid : memo.band.low + margin);
  memo.moistening_wanted = memo.vpd > (memo.moistening_wanted ? mid : memo.band.high - margin);
}

// --- the devices, each from the memo and the clock's word alone
// -------------------------------------

// Has `since` lasted for `delay`? If not yet, the law must be asked again when it has.
bool lasted(const Since& since, Millis delay, Instant now, Instant& decide_again) {
  if (!since) return false;
  const Instant due = next_whole_second(*since + delay);
  if (now >= due) return true;
  decide_again = std::min(decide_again, due);
  return false;
}

// Whether the dehumidifier will run after this scan, as far as the law can tell. Fan and humidifier
// go by this, so that they move in the scan in which it starts and not a scan later.
bool will_dehumidify(const ClimateView& view, const Memo& memo, Instant& decide_again) {
  const LegalMove& dryer = view.dehumidifier;
  if (!dryer.fitted) return false;
  const bool runs = dryer.level != kStopped;
  if (runs == memo.dehumidify || memo.dehumidifier_disobeys) return runs;
  const bool may = runs ? dryer.may_stop : dryer.may_start;
  if (may) return !runs;
  // Quiet hours forbid a start without naming an end: they are no reason to be asked again.
  const Instant allowed = runs ? dryer.may_stop_at : dryer.may_start_at;
  if (allowed > view.now) decide_again = std::min(decide_again, allowed);
  return runs;
}

void decide_dehumidifier(const ClimateView& view, Memo& memo, Instant& decide_again) {
  if (!view.dehumidifier.fitted) {
    memo.dehumidify = false;
    return;
  }
  const Millis delay = view.tuning.drying_delay;
  if (memo.dehumidify) {
    const bool dry_enough = memo.vpd > middle(memo.band);
    const bool in_room = view.beliefs.dehumidifier_place == DehumidifierPlace::room;
    if (dry_enough && (!in_room || lasted(memo.fan_least, delay, view.now, decide_again)))
      memo.dehumidify = false;
    return;
  }
  const Kilopascal width = memo.band.high - memo.band.low;
  const Kilopascal start = memo.band.low + width * (view.tuning.hysteresis / 4);
  if (memo.vpd >= start) return;
  const bool venting_cannot =
      !view.fan.fitted || memo.moistens || (memo.reachable && *memo.reachable < memo.band.low);
  memo.dehumidify = venting_cannot || lasted(memo.fan_most, delay, view.now, decide_again);
}

void decide_humidifier(const ClimateView& view, bool dehumidifies, Memo& memo,
                       Instant& decide_again) {
  if (!view.humidifier.fitted || !memo.moistening_wanted || memo.dehumidify || dehumidifies) {
    memo.humidify = false;
    return;
  }
  if (memo.humidify) return;
  const Since& fan_moist = memo.moistens ? memo.fan_most : memo.fan_least;
  const bool fan_ready =
      !view.fan.fitted || lasted(fan_moist, kFanLeastBeforeHumidifier, view.now, decide_again);
  const bool dryer_ready =
      !view.dehumidifier.fitted ||
      lasted(memo.dehumidifier_stopped, kStoppedBeforeHumidifier, view.now, decide_again);
  memo.humidify = fan_ready && dryer_ready;
}

Because vpd_reason(const Memo& memo) {
  const auto say = [&](Reason reason) {
    return because(reason, memo.vpd.value, memo.band.low.value, memo.band.high.value);
  };
  if (memo.vpd < memo.band.low) return say(Reason::vpd_below_band);
  if (memo.vpd > memo.band.high) return say(Reason::vpd_above_band);
  if (memo.drying_wanted) return say(Reason::vpd_low_in_band);
  if (memo.moistening_wanted) return say(Reason::vpd_high_in_band);
  return say(Reason::vpd_in_band);
}

Wish fan_wish(const ClimateView& view, const Memo& memo, bool dehumidifies) {
  const bool for_moisture = memo.moistens && memo.moistening_wanted;
  if (dehumidifies && view.beliefs.dehumidifier_place == DehumidifierPlace::tent && !for_moisture)
    return {true, least_venting(view.fan), because(Reason::drying_by_dehumidifier)};
  const bool up = for_moisture || (!memo.moistens && memo.drying_wanted);
  return {true, up ? most_venting(view.fan) : least_venting(view.fan), vpd_reason(memo)};
}

Wish dehumidifier_wish(const Memo& memo) {
  if (!memo.dehumidify) return {true, kStopped, vpd_reason(memo)};
  if (memo.reachable && *memo.reachable < memo.band.low)
    return {true, kRunning,
            because(Reason::venting_too_weak, memo.reachable->value, memo.band.low.value)};
  return {true, kRunning, vpd_reason(memo)};
}

Wish humidifier_wish(const Memo& memo) {
  if (memo.humidify) return {true, kRunning, vpd_reason(memo)};
  if (memo.moistening_wanted) return {true, kStopped, because(Reason::humidifier_waits)};
  return {true, kStopped, vpd_reason(memo)};
}

}  // namespace

ClimateAsk TwoPositionLaw::decide(const ClimateView& view, LawMemory& memory) const {
  ClimateAsk ask;
  Memo memo = load(memory);
  if (view.new_sample || !memo.sampled) take_sample(view, memo);
  decide_dehumidifier(view, memo, ask.decide_again);
  const bool dehumidifies = will_dehumidify(view, memo, ask.decide_again);
  decide_humidifier(view, dehumidifies, memo, ask.decide_again);
  ask.fan = fan_wish(view, memo, dehumidifies);
  ask.dehumidifier = dehumidifier_wish(memo);
  ask.humidifier = humidifier_wish(memo);
  store(memo, memory);
  return ask;
}

}  // namespace neap
