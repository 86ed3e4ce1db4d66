// From the programme to what is due now: the stage in force, targets, and the flood slot whose turn
// it is. A slot starts at most once; a slot that could not start in its grace is skipped aloud, and
// at most one missed slot is caught up.
#pragma once

#include "daemon/core/event.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

const StagePlan& stage_in_force(const Plan& plan, const State& state);
bool time_is_known(const WallTime& wall);
// The wall clock as far as it can be believed: one that is merely carried over and months ahead of
// the last flood page counts as unset.
WallTime believed(const State& state, WallTime wall);

// Civil time, stage, day or night, targets. Emits stage and time events.
void follow_clock(const Plan& plan, State& state, const WallTime& wall, Instant now,
                  Events& events);

// Enters a stage: by a person's word, or at the first start by the days since the programme began.
// `date`: on which it began, today or before.
void enter_stage(const Plan& plan, State& state, std::int32_t index, std::int32_t date,
                 Events& events);

// Which flood should start now, if any. Skips what is over. `permitted`: the pump may start.
FloodStart due_flood(const Plan& plan, State& state, const WallTime& wall, bool permitted,
                     Because withheld, Events& events);
// The cycle accepted `start`: its slot is used up.
void mark_started(State& state, const FloodStart& start);

// After a reload or a new stage: slots already past are not missed floods of the new schedule.
// One that started before and keeps its time is used, whatever its number is now. A reload that
// leaves the slots as they are changes nothing.
void rebase_slots(const Plan& plan, State& state);

// Another hand floods: `slot` had its moment, and neap would have used it.
void mark_seen(State& state, SlotId slot);

// The next slot not yet used, from the table in force or a later day; none while time is unset.
std::optional<FloodSlot> coming_slot(const Plan& plan, const State& state);

// The next instant at which the programme changes something: a slot, a light edge, a ramp step,
// quiet hours, midnight. Instant::max() while time is unset.
Instant next_schedule_deadline(const Plan& plan, const State& state, const WallTime& wall,
                               Instant now);

}  // namespace neap
