// The roots' clock: how long they have waited for water, and until when they can wait. It begins
// with a flood that filled the tray and counts, by tick, what each millisecond costs them: one in
// the light at a VPD of 1 kPa, in proportion to the VPD, much less in the dark. What they may spend
// is the medium's time; a programme whose own gaps cost more has shown that its crop stands more.
//
// No wall clock moves it, but for an outage, which stops the tick. It never lets the pump start by
// itself: it tells people how urgent a withheld flood is, and the owner's policy `timed` when.
#pragma once

#include <optional>

#include "daemon/core/plan.h"
#include "daemon/core/programme.h"
#include "daemon/core/state.h"

namespace neap {

// Time in the light at a VPD of 1 kPa that the roots may spend: 1 h .. 72 h.
Millis dry_out(const TablePlan& table);

// The longest gap between two floods of the programme, and what it costs the roots in the air that
// the stage asks for. `next`: the first slot after `slots`. Zero when there are no floods.
struct PlannedGap {
  Millis longest{};
  Millis spent{};
};
PlannedGap planned_gap(const StagePlan& stage, const FloodSlots& slots,
                       const std::optional<FloodSlot>& next);

// Moves the clock to `now`; stands still at nothing in a fallow stage. Returns the outage that it
// has counted just now, of the one before this start.
Millis follow_roots(const Plan& plan, State& state, Instant now);
// A flood has filled the tray.
void roots_watered(State& state, Instant now);

// All that the roots may spend now, and what is left of it.
Millis roots_limit(const Plan& plan, const State& state);
bool roots_half_gone(const Plan& plan, const State& state);
bool roots_time_over(const Plan& plan, const State& state);
// The time that is left, with the light edges ahead; none while nothing is planned to water them.
std::optional<Millis> roots_left(const Plan& plan, const State& state);
// A planned flood is withheld, missed or cut off, or none has come for longer than the programme
// leaves between two: only then the clock is anybody's concern.
bool roots_in_want(const Plan& plan, const State& state, Instant now);

// "roots safe until about 19:40", to ten minutes; by hours when the time of day is not known.
Because roots_because(const Plan& plan, const State& state, Instant now);

// The next instant at which one of the above changes by time alone.
Instant next_roots_deadline(const Plan& plan, const State& state);

}  // namespace neap
