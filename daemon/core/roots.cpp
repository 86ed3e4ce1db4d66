#include "daemon/core/roots.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/core/demand.h"
#include "daemon/core/limits.h"
#include "daemon/core/schedule.h"

namespace neap {
namespace {

// Hours from a flood until a crop in it suffers, in the light at 1 kPa. Growers' texts have coarse
// media at hours and wool and coco at about a day (homehydrosystems.com for media that store
// little; Resh for gravel flooded hourly on bright days and three times on dull ones); the figures
// between are common practice, no source.
struct MediumTime {
  Medium medium;
  Millis time;
};
constexpr std::array kMediumTimes{
    MediumTime{Medium::clay, hours{6}},        MediumTime{Medium::gravel, hours{5}},
    MediumTime{Medium::perlite, hours{8}},     MediumTime{Medium::coco, hours{24}},
    MediumTime{Medium::stone_wool, hours{24}},
};

// A crop's water use goes with the VPD; leaves close against very dry air and lose some water in
// any (common practice, no source).
constexpr double kReferenceKpa = 1.0;
constexpr int kWhole = 1000;
constexpr int kLeastPart = 500;
constexpr int kMostPart = 2000;
// A programme's longest gap may cost this part of what the crop stands, no more.
constexpr int kGapPart = 800;
// Later than the longest gap by this much no flood is merely late: a change of the clocks (1 h),
// and what a catch-up takes to come and fill.
constexpr Millis kLateBy = minutes{90};
constexpr Millis kTold = minutes{10};  // a deadline is told this finely
// A wait shorter than this is none that a person need hear of.
constexpr Millis kWorthTelling = minutes{30};
constexpr Millis kLongestOutage = hours{24 * 30};

int vpd_part(double kpa) {
  const double part = std::clamp(kWhole * kpa / kReferenceKpa, 1.0 * kLeastPart, 1.0 * kMostPart);
  return static_cast<int>(std::lround(part));
}

int cost(bool light, double kpa) {
  return light ? vpd_part(kpa) : vpd_part(kpa) * kDarkPart / kWhole;
}

double middle(const Band& band) { return (band.low.value + band.high.value) / 2; }

int planned_cost(const StagePlan& stage, bool light) {
  return cost(light, middle(light ? stage.vpd_day : stage.vpd_night));
}

std::int64_t light_seconds(const StagePlan& stage, CivilTime from, CivilTime to) {
  const std::int64_t span = civil_seconds_between(from, to);
  std::int64_t lit = 0;
  for (std::int32_t date = from.date - 1; date <= to.date; ++date) {
    const std::int64_t on = civil_seconds_between(from, {date, stage.lights_on_s});
    const std::int64_t off = on + stage.light_length_s;
    lit += std::max<std::int64_t>(0, std::min(off, span) - std::max<std::int64_t>(on, 0));
  }
  return lit;
}

// Floods that wait for the time of day are planned all the same.
bool planned(const Plan& plan, const State& state) {
  const StagePlan& stage = stage_in_force(plan, state);
  if (stage.fallow || stage.floods.rule == SlotRule::none) return false;
  return !time_is_known(state.last_wall) || state.slot_table.longest_gap > Millis{0};
}

// Neither under the floor nor over the ceiling whatever the air does.
int bounded(Millis limit, int rate) {
  const auto lowest = static_cast<int>(limit * kWhole / limits::kRootsCeiling);
  const auto highest = static_cast<int>(limit * kWhole / limits::kRootsFloor);
  return std::clamp(rate, std::max(lowest, 1), std::max(highest, 1));
}

// Without a reading the driest air of the band counts.
int rate_now(const Plan& plan, const State& state) {
  const double kpa = state.canopy.vpd ? state.canopy.vpd->value : state.targets.band.high.value;
  return bounded(roots_limit(plan, state), cost(state.day, kpa));
}

// The tick stood still while the power was off, in the dark. Told once a start, when the time of
// day is known.
Millis outage(State& state, Instant now) {
  const RootsClock& roots = state.kept.roots;
  if (state.outage_counted || !time_is_known(state.last_wall)) return Millis{0};
  state.outage_counted = true;
  if (!roots.wall_known) return Millis{0};
  const Millis by_wall{state.last_wall.unix_ms - roots.wall_ms};
  const Millis away = by_wall - (now - instant(Millis{roots.wall_tick}));
  return std::clamp(away, Millis{0}, Millis{kLongestOutage});
}

Millis waited(const State& state, Instant now) {
  return now - instant(Millis{state.kept.roots.since_tick});
}

Millis late_after(const State& state) { return state.slot_table.longest_gap + kLateBy; }

bool spent(const State& state, Millis time) {
  return state.kept.roots.spent >= time.count() * kWhole;
}

// When `time` will be spent at the present rate.
Instant spent_at(const State& state, Millis time) {
  const RootsClock& roots = state.kept.roots;
  const std::int64_t left = time.count() * kWhole - roots.spent;
  if (left <= 0 || roots.rate <= 0) return Instant::max();
  return instant(Millis{roots.counted_tick + (left + roots.rate - 1) / roots.rate});
}

}  // namespace

Millis dry_out(const TablePlan& table) {
  for (const MediumTime& row : kMediumTimes)
    if (row.medium == table.medium) return table.dry_out.value_or(row.time);
  return kMediumTimes.front().time;
}

PlannedGap planned_gap(const StagePlan& stage, const FloodSlots& slots,
                       const std::optional<FloodSlot>& next) {
  PlannedGap gap;
  if (stage.fallow) return gap;
  for (std::size_t i = 0; i < slots.size(); ++i) {
    const bool last = i + 1 == slots.size();
    if (last && !next) break;
    const CivilTime from = slots[i].start;
    const CivilTime to = last ? next->start : slots[i + 1].start;
    const std::int64_t length = civil_seconds_between(from, to);
    const std::int64_t lit = light_seconds(stage, from, to);
    gap.longest = std::max(gap.longest, Millis{length * 1000});
    gap.spent = std::max(gap.spent, Millis{lit * planned_cost(stage, true) +
                                           (length - lit) * planned_cost(stage, false)});
  }
  return gap;
}

Millis roots_limit(const Plan& plan, const State& state) {
  return std::max(dry_out(plan.table), state.slot_table.longest_spent * kWhole / kGapPart);
}

Millis follow_roots(const Plan& plan, State& state, Instant now) {
  RootsClock& roots = state.kept.roots;
  Millis away{0};
  if (!roots.running || stage_in_force(plan, state).fallow) {
    roots = RootsClock{};
    roots.running = true;
    roots.since_tick = tick_ms(now);
    state.outage_counted = true;
  } else {
    away = outage(state, now);
    roots.spent += (tick_ms(now) - roots.counted_tick) * roots.rate + away.count() * kDarkPart;
  }
  roots.counted_tick = tick_ms(now);
  roots.rate = rate_now(plan, state);
  // While the time of day is not known, the time of before is still asked for.
  if (!state.outage_counted || !time_is_known(state.last_wall)) return away;
  roots.wall_known = true;
  roots.wall_ms = state.last_wall.unix_ms;
  roots.wall_tick = tick_ms(now);
  return away;
}

void roots_watered(State& state, Instant now) {
  RootsClock& roots = state.kept.roots;
  roots.proven = true;
  roots.cut_short = false;
  roots.since_tick = tick_ms(now);
  roots.spent = 0;
  state.kept.flood_missed = false;
}

bool roots_half_gone(const Plan& plan, const State& state) {
  return spent(state, roots_limit(plan, state) / 2);
}

bool roots_time_over(const Plan& plan, const State& state) {
  return spent(state, roots_limit(plan, state));
}

std::optional<Millis> roots_left(const Plan& plan, const State& state) {
  const RootsClock& roots = state.kept.roots;
  if (!planned(plan, state)) return std::nullopt;
  const Millis limit = roots_limit(plan, state);
  std::int64_t left = limit.count() * kWhole - roots.spent;
  if (left <= 0) return Millis{0};
  if (!time_is_known(state.last_wall) || roots.rate <= 0)
    return std::min<Millis>(Millis{left / std::max(roots.rate, 1)}, limits::kRootsCeiling);
  const StagePlan& stage = stage_in_force(plan, state);
  CivilTime at = state.civil;
  std::int64_t rate = roots.rate;
  Millis span{0};
  while (span < limits::kRootsCeiling) {
    const LightEdges edges = photoperiod_at(stage, at);
    const CivilTime edge =
        is_light(stage, at) ? edges.off : CivilTime{edges.on.date + 1, edges.on.second_of_day};
    const std::int64_t to_edge = civil_seconds_between(at, edge) * 1000;
    if (left <= to_edge * rate) return span + Millis{left / rate};
    left -= to_edge * rate;
    span += Millis{to_edge};
    at = edge;
    rate = bounded(limit, planned_cost(stage, is_light(stage, at)));
  }
  return limits::kRootsCeiling;
}

bool roots_in_want(const Plan& plan, const State& state, Instant now) {
  if (!planned(plan, state)) return false;
  return !time_is_known(state.last_wall) || state.withheld.reason != Reason::none ||
         state.kept.flood_missed || state.kept.roots.cut_short ||
         waited(state, now) >= late_after(state);
}

Because roots_because(const Plan& plan, const State& state, Instant now) {
  const Millis wait = waited(state, now);
  const std::optional<Millis> left = roots_left(plan, state);
  if (!left || *left <= Millis{0})
    return because(Reason::roots_dry, static_cast<double>(wait.count()) / 1000);
  const double since = wait < kWorthTelling ? 0 : static_cast<double>(wait.count()) / 1000;
  if (!time_is_known(state.last_wall))
    return because(Reason::roots_safe_for, static_cast<double>(left->count()) / 1000, since);
  const std::int64_t told = kTold.count() / 1000;
  const std::int64_t until = (state.civil.second_of_day + left->count() / 1000) / told * told;
  // Midnight is told as the day's last second is followed by: a zero would read as 'not known'.
  const std::int64_t second = until % kSecondsPerDay == 0 ? kSecondsPerDay : until % kSecondsPerDay;
  return because(Reason::roots_safe_until, static_cast<double>(second), since);
}

Instant next_roots_deadline(const Plan& plan, const State& state) {
  if (!planned(plan, state)) return Instant::max();
  const Millis limit = roots_limit(plan, state);
  const Instant late = instant(Millis{state.kept.roots.since_tick}) + late_after(state);
  const Instant next = std::min(spent_at(state, limit / 2), spent_at(state, limit));
  return late > instant(Millis{state.kept.roots.counted_tick}) ? std::min(next, late) : next;
}

}  // namespace neap
