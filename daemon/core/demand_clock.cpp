#include "daemon/core/demand_clock.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/schedule.h"
#include "daemon/core/tally.h"

namespace neap {
namespace {

constexpr double kPaMsOfKpaHour = 1000.0 * 3600 * 1000;

std::optional<std::int32_t> rate_now(const State& state) {
  const Reading<Kilopascal>& vpd = banded_vpd(state);
  if (!vpd) return std::nullopt;
  const double pa = std::max(0.0, vpd->value) * 1000;
  return static_cast<std::int32_t>(std::lround(state.day ? pa : pa * kDarkPart / 1000));
}

std::optional<DemandTimes> times_now(const Plan& plan, const State& state) {
  if (!floods_by_demand(plan, state) || !time_is_known(state.last_wall)) return std::nullopt;
  const DemandClock& clock = state.kept.demand;
  DemandNow now{.at = state.civil,
                .since = Millis{clock.counted_tick - clock.since_tick},
                .away = Millis{clock.away_ms},
                .used = clock.used,
                .rate = rate_now(state)};
  return demand_times(plan.programme, stage_in_force(plan, state), now);
}

CivilTime after(const State& state, Millis span) {
  return later(state.civil, (std::max(span, Millis{0}).count() + 999) / 1000);
}

}  // namespace

bool floods_by_demand(const Plan& plan, const State& state) {
  return stage_in_force(plan, state).floods.rule == SlotRule::by_demand;
}

void follow_demand(const Plan& plan, State& state, Millis away, Instant now) {
  DemandClock& clock = state.kept.demand;
  if (!clock.running || stage_in_force(plan, state).fallow) {
    clock = DemandClock{};
    clock.running = true;
    clock.since_tick = tick_ms(now);
  } else {
    clock.used += (tick_ms(now) - clock.counted_tick) * clock.rate;
    clock.away_ms += away.count();
  }
  clock.counted_tick = tick_ms(now);
  clock.rate = rate_now(state).value_or(0);
  clock.slot_open = clock.slot_open && floods_by_demand(plan, state);
}

void demand_met(State& state, Instant now) {
  demand_taken(state, now);
  state.kept.demand.used = 0;
}

void demand_taken(State& state, Instant now) {
  DemandClock& clock = state.kept.demand;
  clock.since_tick = tick_ms(now);
  clock.away_ms = 0;
  clock.slot_open = false;
}

std::optional<DemandOutlook> demand_outlook(const Plan& plan, const State& state) {
  const auto times = times_now(plan, state);
  if (!times) return std::nullopt;
  return DemandOutlook{static_cast<double>(state.kept.demand.used) / kPaMsOfKpaHour,
                       stage_in_force(plan, state).floods.demand_kpa_h,
                       after(state, times->expected), after(state, times->latest),
                       !rate_now(state)};
}

bool demand_comes_due(const Plan& plan, const State& state) {
  const auto times = times_now(plan, state);
  return times && times->expected <= Millis{0} && !state.kept.demand.slot_open;
}

void open_demand_slot(State& state, SlotId id) {
  state.kept.demand.slot_open = true;
  state.kept.demand.slot = {id, state.civil, state.civil};
}

Instant next_demand_deadline(const Plan& plan, const State& state) {
  const auto times = times_now(plan, state);
  if (!times || times->expected <= Millis{0}) return Instant::max();
  return instant(Millis{state.kept.demand.counted_tick}) + times->expected;
}

}  // namespace neap
