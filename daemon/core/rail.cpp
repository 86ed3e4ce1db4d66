#include "daemon/core/rail.h"

#include <algorithm>

#include "daemon/core/pump_contacts.h"

namespace neap {
namespace {

// Remembers since when `holds` has held.
void note(std::optional<Instant>& since, bool holds, Instant now) {
  if (!holds)
    since.reset();
  else if (!since)
    since = now;
}

void look_at_its_points(const Plan& plan, State& state, Instant now) {
  RailCycle& rail = state.rail;
  bool any = false;
  bool all = true;
  for (const PointInfo& row : kPoints) {
    const auto& fitted = plan.points[row.point];
    if (!fitted || !fitted->on_rail) continue;
    const bool silent = !state.points[row.point].reading;
    any = any || silent;
    all = all && silent;
  }
  note(rail.any_silent_since, any, now);
  note(rail.all_silent_since, any && all, now);
  note(rail.well_since, !any, now);
  if (rail.well_since && now - *rail.well_since >= kRailWaits) rail.tries = 0;
}

// When the silence is reason enough.
Instant due_at(const RailCycle& rail) {
  Instant due = Instant::max();
  if (rail.all_silent_since) due = *rail.all_silent_since + kRailAllSilent;
  if (rail.any_silent_since) due = std::min(due, *rail.any_silent_since + kRailOneSilent);
  return due == Instant::max() ? due : std::max(due, rail.not_before);
}

bool water_is_still(const Plan& plan, const State& state) {
  return !state.kept.flood_was_running && pump_told(plan, state.last) == PumpTold::stopped;
}

Millis wait_after(int tries) {
  const int doublings = std::min(tries - 1, 6);  // 640 min are more than the most
  return std::min(kRailWaitsMost, kRailWaits * (1 << doublings));
}

void enter(RailCycle& rail, RailPhase phase, Instant now) {
  rail.phase = phase;
  rail.since = now;
}

}  // namespace

bool rail_is_cycling(const State& state) { return state.rail.phase != RailPhase::on; }

bool rail_suspends(const Plan& plan, const State& state, Point point) {
  const auto& fitted = plan.points[point];
  return rail_is_cycling(state) && fitted && fitted->on_rail;
}

void follow_rail(const Plan& plan, State& state, LeakSeen leak, Instant now) {
  RailCycle& rail = state.rail;
  if (!drives(plan, Output::sensor_rail)) {
    rail = RailCycle{};  // new settings may have come in mid-cycle
    return;
  }
  switch (rail.phase) {
    case RailPhase::on:
      look_at_its_points(plan, state, now);
      if (now < due_at(rail) || leak == LeakSeen::wet || !water_is_still(plan, state)) return;
      ++rail.tries;
      return enter(rail, RailPhase::off, now);
    case RailPhase::off:
      if (now - rail.since >= kRailOff) enter(rail, RailPhase::settling, now);
      return;
    case RailPhase::settling:
      if (now - rail.since < kRailSettles) return;
      rail.not_before = now + wait_after(rail.tries);
      return enter(rail, RailPhase::on, now);
  }
}

void ask_rail(const State& state, Demands& demands) {
  if (state.rail.phase != RailPhase::off) return;
  demands.push({Output::sensor_rail, kStopped, Precedence::sequence,
                because(Reason::rail_cycles, state.rail.tries)});
}

bool rail_helps_not(const State& state) {
  const RailCycle& rail = state.rail;
  return rail.tries >= 2 && rail.any_silent_since.has_value();
}

Instant next_rail_deadline(const State& state, Instant now) {
  const RailCycle& rail = state.rail;
  Instant next = Instant::max();
  const auto consider = [&](Instant at) {
    if (at > now) next = std::min(next, at);
  };
  switch (rail.phase) {
    case RailPhase::on:
      consider(due_at(rail));
      if (rail.well_since && rail.tries > 0) consider(*rail.well_since + kRailWaits);
      return next;
    case RailPhase::off:
      consider(rail.since + kRailOff);
      return next;
    case RailPhase::settling:
      consider(rail.since + kRailSettles);
      return next;
  }
  return next;
}

}  // namespace neap
