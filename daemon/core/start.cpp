// What a scan begins with after a start, and after a reload.
#include <algorithm>

#include "daemon/core/budget.h"
#include "daemon/core/scan.h"
#include "daemon/core/schedule.h"

namespace neap {
namespace {

// Outputs that neap takes from another hand with this start, or gives away: what the climate law
// has learnt was learnt of other devices, and a retry is not for whoever has the pump next. Dwells
// begin anew and a flood under way is cut off with every start. `known`: there was a hand before.
void hand_over(const Plan& plan, bool known, State& state) {
  for (const OutputInfo& row : kOutputs) {
    bool& before = state.kept.in_another_hand[row.output];
    const bool after = in_another_hand(plan, row.output);
    state.changed_hands[row.output] = known && before != after;
    if (before == after) continue;
    before = after;
    if (is_climate_device(row.output) || row.output == Output::light) state.kept.law = LawMemory{};
    if (row.output == Output::pump) state.flood.retry_pending = false;
  }
}

// A run that was granted by other settings.
void narrow_budget(const Plan& after, State& state, Instant now) {
  if (!state.kept.budget.run_open) return;
  const bool in_flood =
      state.flood.phase == FloodPhase::fill || state.flood.phase == FloodPhase::soak;
  const Millis run = now - run_start(state.kept.budget);
  const Millis before = in_flood ? state.flood.row.pump_on - run : Millis{0};
  narrow_run(after.table, state.kept.budget, std::max(before, Millis{0}), now);
  state.shadow.budget = state.kept.budget;
}

}  // namespace

State start_state(const Plan& plan, const Kept* kept, Instant now) {
  State state;
  if (kept != nullptr) state.kept = *kept;
  forfeit_run(state.kept.budget);
  for (const OutputInfo& row : kOutputs) {
    const auto& fitted = plan.outputs[row.output];
    state.last.commands[row.output].level = fitted ? fitted->safe : row.safe;
    state.last.would[row.output].level = state.last.commands[row.output].level;
    Dwell& dwell = state.kept.dwell[row.output];
    // Nobody knows what the device did in between: it counts as changed just now.
    dwell.changed = now;
    dwell.changed_known = true;
  }
  state.pump_proof.told_since = now;
  state.proofs_from = now;
  state.service = state.kept.service;
  state.service_until = instant(Millis{state.kept.service_until_tick});
  const FloodPending& pending = state.kept.flood_pending;
  state.flood.no_effect_alarm = pending.no_effect_alarm;
  state.flood.fill_alarm = pending.fill_alarm;
  state.flood.float_doubtful = pending.float_doubtful;
  state.flood.retry_pending = pending.retry_pending;
  state.flood.retries = pending.retries;
  state.flood.retry_at = instant(Millis{pending.retry_at_tick});
  state.flood.row = state.kept.flood_row;
  state.flood.any_ended = state.kept.any_flood_ended;
  state.flood.last_ended = instant(Millis{state.kept.last_flood_ended_tick});
  hand_over(plan, kept != nullptr, state);
  return state;
}

void adopt_plan(const Plan& before, const Plan& after, State& state, Instant now) {
  const std::string& stage_name = stage_in_force(before, state).name;
  const auto& stages = after.programme.stages;
  const auto same = std::find_if(stages.begin(), stages.end(),
                                 [&](const StagePlan& s) { return s.name == stage_name; });
  if (same != stages.end()) {
    state.kept.stage_index = static_cast<std::int32_t>(same - stages.begin());
  } else {
    state.kept.stage_known = false;  // the days decide again
  }
  if (before.proofs.hardware != after.proofs.hardware) state.proofs_from = now;
  rebase_slots(after, state);
  narrow_budget(after, state, now);
  state.last_scan = std::max(state.last_scan, now);
}

}  // namespace neap
