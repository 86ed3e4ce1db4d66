#include "daemon/core/schedule.h"

#include <algorithm>

#include "daemon/core/demand_clock.h"
#include "daemon/core/roots.h"

namespace neap {
namespace {

// Days between two pages over which open slots are told as missed; more is a clock gone wild, or an
// outage that is told as such.
constexpr std::int32_t kLeaveWithin = 2;
// A clock that nobody vouches for is not believed this far ahead of the last flood page, and one
// that was is forgotten.
constexpr std::int32_t kWildDays = 60;
constexpr Millis kJump = hours{12};
constexpr Millis kClockKeepsItsWord = hours{24};
constexpr Millis kStepTolerance = seconds{2};  // wall against tick: beyond is a step, not a slew

std::uint64_t bit_of(std::int32_t number) { return std::uint64_t{1} << (number - 1); }

// The used-slots mask of a photoperiod. Older than yesterday's: all used, nothing fires twice.
std::uint64_t used_mask(const Kept& kept, std::int32_t date) {
  if (date == kept.slots_date) return kept.slots_done;
  if (date == kept.slots_date_before) return kept.slots_done_before;
  return date > kept.slots_date ? 0 : ~std::uint64_t{0};
}

void set_used(Kept& kept, SlotId id) {
  if (id.date == kept.slots_date) kept.slots_done |= bit_of(id.number);
  if (id.date == kept.slots_date_before) kept.slots_done_before |= bit_of(id.number);
}

void turn_page(Kept& kept, std::int32_t date) {
  if (date <= kept.slots_date) return;
  kept.slots_date_before = kept.slots_date;
  kept.slots_done_before = kept.slots_done;
  kept.slots_date = date;
  kept.slots_done = 0;
}

// A clock that had gone ahead and is surely right again: what it used up in the future must not
// withhold every flood until then. The page of before it comes back, or one afresh. A step back by
// days is no such thing at first: no slot of those days starts a second time; but a clock that has
// kept to its word for a day is believed, whatever the pages say.
void forget_future(State& state, std::int32_t date, const WallTime& wall, Instant now) {
  Kept& kept = state.kept;
  const std::int32_t ahead = kept.slots_date - date;
  if (ahead <= 0) state.behind_since.reset();
  if (wall.quality != TimeQuality::synced || ahead <= 0) return;
  if (!state.behind_since) state.behind_since = now;
  const bool kept_to_it = now - *state.behind_since >= kClockKeepsItsWord;
  // Days may have passed meanwhile, so that it is less far ahead now than it was.
  const bool jumped = kept.page_ahead > 0 && ahead >= std::min(kept.page_ahead, 2);
  if (ahead <= kWildDays && !jumped && !kept_to_it) return;
  state.behind_since.reset();
  const bool known = kept.slots_date_before <= date;
  kept.slots_date = known ? kept.slots_date_before : 0;
  kept.slots_done = known ? kept.slots_done_before : 0;
  kept.slots_date_before = 0;
  kept.slots_done_before = 0;
  kept.page_ahead = 0;
  state.slot_table.valid = false;
}

// By how many days the page of `date` was turned too soon to be believed: by a clock that jumped
// while the tick went on, or that nobody vouched for. A single day is forgotten by the next turn:
// it cannot be told from a clock set back by minutes at lights-on.
std::int32_t days_ahead(const Kept& kept, std::int32_t date, const WallTime& wall, bool jumped) {
  const std::int32_t days = kept.slots_date == 0 ? 0 : date - kept.slots_date;
  if (jumped || (wall.quality == TimeQuality::restored && days > 1)) return days;
  return kept.page_ahead > 1 ? kept.page_ahead : 0;
}

// Floods by demand have no times before they are due; what the roots may wait is known all the
// same.
void fill_demand_gap(const Plan& plan, const StagePlan& stage, std::int32_t date,
                     SlotTable& table) {
  FloodSlots sparse;
  FloodSlots tomorrow;
  sparsest_by_demand(plan.programme, stage, date, sparse);
  sparsest_by_demand(plan.programme, stage, date + 1, tomorrow);
  const auto next = tomorrow.empty() ? std::nullopt : std::optional{tomorrow[0]};
  const PlannedGap gap = planned_gap(stage, sparse, next);
  table.longest_gap = gap.longest;
  table.longest_spent = gap.spent;
}

void fill_slot_table(const Plan& plan, State& state) {
  const StagePlan& stage = stage_in_force(plan, state);
  const std::int32_t date = photoperiod_at(stage, state.civil).on.date;
  SlotTable& table = state.slot_table;
  if (table.valid && table.date == date && table.stage_index == state.kept.stage_index) return;
  table.valid = true;
  table.date = date;
  table.stage_index = state.kept.stage_index;
  table.slots.clear();
  table.has_next = false;
  if (stage.floods.rule == SlotRule::by_demand) return fill_demand_gap(plan, stage, date, table);
  slots_of(plan.programme, stage, date, table.slots);
  const auto next = next_slot(plan.programme, stage,
                              {date + 1, photoperiod_at(stage, state.civil).on.second_of_day});
  table.has_next = next.has_value();
  if (next) table.next = *next;
  const PlannedGap gap = planned_gap(stage, table.slots, next);
  table.longest_gap = gap.longest;
  table.longest_spent = gap.spent;
}

// The hour that summer time leaves out: it is as if it had not been.
void note_gap(State& state, const WallTime& wall) {
  const std::int32_t forward = wall.utc_offset_s - state.last_wall.utc_offset_s;
  if (forward <= 0 || !time_is_known(state.last_wall)) return;
  state.gap_s = forward;
  state.gap_end = civil_of(wall);
  state.gap_end.second_of_day -= state.gap_end.second_of_day % 60;
}

// True when the clock has gone ahead by more than any change of the clocks or of the zone does.
bool note_time(State& state, const WallTime& wall, Instant now, Events& events) {
  bool jumped = false;
  Event event;
  event.kind = EventKind::time;
  if (state.scanned) {
    const Millis drift =
        Millis{wall.unix_ms - state.last_wall.unix_ms} - (now - state.last_wall_at);
    const bool stepped = std::chrono::abs(drift) > kStepTolerance;
    jumped = time_is_known(state.last_wall) && drift > kJump;
    if (!stepped) note_gap(state, wall);
    if (stepped || wall.quality != state.last_wall.quality ||
        wall.utc_offset_s != state.last_wall.utc_offset_s) {
      event.because =
          because(Reason::wall_clock_stepped, static_cast<double>(drift.count()) / 1000);
      event.number = static_cast<std::int32_t>(wall.quality);
      events.push(event);
    }
  }
  state.last_wall = wall;
  state.last_wall_at = now;
  return jumped;
}

// By days alone, for the first start: the stage that `date` falls into.
std::int32_t stage_by_days(const ProgrammePlan& programme, std::int32_t date,
                           std::int32_t& entered) {
  entered = std::min(programme.start_date, date);
  std::int32_t index = 0;
  while (index + 1 < static_cast<std::int32_t>(programme.stages.size())) {
    const int days = programme.stages[static_cast<std::size_t>(index)].days;
    if (days == 0 || date < entered + days) break;
    entered += days;
    ++index;
  }
  return index;
}

void set_targets(const Plan& plan, State& state, bool time_known) {
  const StagePlan& stage = stage_in_force(plan, state);
  ClimateTargets& targets = state.targets;
  state.day = time_known && !stage.fallow && is_light(stage, state.civil);
  targets.band = time_known ? band_at(stage, state.civil) : stage.vpd_night;
  targets.band_by_day = stage.vpd_day;
  targets.band_by_night = stage.vpd_night;
  targets.band_ramp = seconds{stage.band_ramp_s};
  targets.band_of = plan.climate.band_of;
  targets.air_lowest = stage.air_lowest;
  targets.air_highest = stage.air_highest;
  targets.humidity_ceiling = stage.humidity_ceiling;
  targets.day = state.day;
  targets.quiet = time_known && in_quiet_hours(plan.programme.quiet, state.civil.second_of_day);
}

Event skipped(const FloodSlot& slot, Because why) {
  Event event;
  event.kind = EventKind::slot_skipped;
  event.slot = slot.id;
  event.because = why;
  return event;
}

// Seconds that a slot is late, the hour that was left out apart.
std::int64_t late(const State& state, const FloodSlot& slot) {
  const std::int64_t all = civil_seconds_between(slot.start, state.civil);
  const std::int64_t to_gap_end = civil_seconds_between(slot.start, state.gap_end);
  const bool over_gap = state.gap_s > 0 && to_gap_end > 0 && state.civil >= state.gap_end;
  return over_gap ? all - std::min<std::int64_t>(to_gap_end, state.gap_s) : all;
}

// The first number after all that are used; none is left when the last one is.
std::int32_t next_number(std::uint64_t used) {
  std::int32_t number = 1;
  for (; used != 0; used >>= 1) ++number;
  return number <= kMaxSlotsPerDay ? number : 0;
}

SlotId next_demand_id(const State& state, const StagePlan& stage, CivilTime at) {
  const std::int32_t date = photoperiod_at(stage, at).on.date;
  return {date, next_number(used_mask(state.kept, date))};
}

// A slot that will not start any more: told, counted, and perhaps caught up once.
void skip(const Plan& plan, State& state, const FloodSlot& slot, Because withheld, Events& events) {
  set_used(state.kept, slot.id);
  ++state.kept.tally.floods_planned;
  state.kept.flood_missed = true;
  events.push(
      skipped(slot, withheld.reason == Reason::none ? because(Reason::flood_missed) : withheld));
  state.kept.catch_up_pending = late(state, slot) <= plan.programme.catch_up_within_s;
  state.kept.catch_up_slot = slot;
}

bool is_used(const Kept& kept, const FloodSlot& slot) {
  return (used_mask(kept, slot.id.date) & bit_of(slot.id.number)) != 0;
}

// Slots over their grace are used up; the newest of them may be caught up once.
void skip_past_slots(const Plan& plan, State& state, Because withheld, Events& events) {
  for (const FloodSlot& slot : state.slot_table.slots)
    if (!is_used(state.kept, slot) && late(state, slot) > plan.programme.slot_grace_s)
      skip(plan, state, slot, withheld, events);
}

// The slot of a flood by demand stands open from the second in which it comes due until it is used:
// by its own flood, by its grace, or by any other flood that fills the tray.
bool demand_is_due(const Plan& plan, State& state, Because withheld, Events& events) {
  if (!floods_by_demand(plan, state)) return false;
  if (demand_comes_due(plan, state)) {
    const SlotId id = next_demand_id(state, stage_in_force(plan, state), state.civil);
    if (id.number > 0) open_demand_slot(state, id);
  }
  const DemandClock& demand = state.kept.demand;
  if (demand.slot_open && late(state, demand.slot) > plan.programme.slot_grace_s) {
    skip(plan, state, demand.slot, withheld, events);
    demand_taken(state, state.last_wall_at);
  }
  return demand.slot_open;
}

// Lights-on has come while slots of the photoperiod before were still open: within their grace, or
// during an outage.
void leave_page(const Plan& plan, State& state, std::int32_t next, Events& events) {
  const std::int32_t date = state.kept.slots_date;
  if (date == 0 || next - date > kLeaveWithin || floods_by_demand(plan, state)) return;
  FloodSlots left;
  slots_of(plan.programme, stage_in_force(plan, state), date, left);
  for (const FloodSlot& slot : left)
    if (!is_used(state.kept, slot) && civil_seconds_between(slot.start, state.civil) >= 0)
      skip(plan, state, slot, state.withheld, events);
}

// Another flood has just filled the tray, and the roots must rest beyond the slot's grace: the slot
// has its water.
bool just_watered(const Plan& plan, const State& state, const FloodSlot& slot) {
  const RootsClock& roots = state.kept.roots;
  if (!roots.proven || roots.since_tick < state.flood.row.started_tick) return false;
  if (state.flood.phase != FloodPhase::idle && state.flood.phase != FloodPhase::rest) return true;
  const Millis rested = state.last_wall_at - state.flood.last_ended;
  const Millis grace_left = seconds{plan.programme.slot_grace_s - late(state, slot)};
  return state.flood.any_ended && plan.table.min_gap - rested > grace_left;
}

void serve(State& state, const FloodSlot& slot, Events& events) {
  set_used(state.kept, slot.id);
  ++state.kept.tally.floods_planned;
  events.push(skipped(slot, because(Reason::flood_just_before)));
}

FloodStart take_slot(State& state, const FloodSlot& slot, bool permitted) {
  state.slot_due = true;
  state.due_slot = slot;
  state.kept.catch_up_pending = false;  // the next slot has come: nothing is left to catch up
  return {permitted, slot.id, FloodOrigin::slot};
}

// `slot` started already, under whatever number.
bool started_before(const SlotTable& before, std::uint64_t done, const FloodSlot& slot) {
  return before.valid &&
         std::any_of(before.slots.begin(), before.slots.end(), [&](const FloodSlot& old) {
           return old.start == slot.start && (done & bit_of(old.id.number)) != 0;
         });
}

// Same slots as the table in force has: a reload that changes nothing about them.
bool same_slots(const FloodSlots& a, const FloodSlots& b) {
  return std::equal(
      a.begin(), a.end(), b.begin(), b.end(),
      [](const FloodSlot& x, const FloodSlot& y) { return x.id == y.id && x.start == y.start; });
}

}  // namespace

const StagePlan& stage_in_force(const Plan& plan, const State& state) {
  const auto last = static_cast<std::int32_t>(plan.programme.stages.size()) - 1;
  return plan.programme
      .stages[static_cast<std::size_t>(std::clamp(state.kept.stage_index, 0, last))];
}

bool time_is_known(const WallTime& wall) { return wall.quality != TimeQuality::unset; }

WallTime believed(const State& state, WallTime wall) {
  const std::int32_t page = state.kept.slots_date;
  if (wall.quality == TimeQuality::restored && page != 0 && civil_of(wall).date - page > kWildDays)
    wall.quality = TimeQuality::unset;
  return wall;
}

void enter_stage(const Plan& plan, State& state, std::int32_t index, std::int32_t date,
                 Events& events) {
  state.kept.stage_index = index;
  state.kept.stage_entered_date = date;
  state.kept.stage_known = true;
  follow_solution_stage(state.kept.solution_age, stage_in_force(plan, state), date);
  rebase_slots(plan, state);
  Event event;
  event.kind = EventKind::stage;
  event.number = index;
  event.because = because(Reason::stage_entered, index);
  events.push(event);
}

void follow_clock(const Plan& plan, State& state, const WallTime& wall, Instant now,
                  Events& events) {
  const bool jumped = note_time(state, wall, now, events);
  const bool known = time_is_known(wall);
  if (known) {
    state.civil = civil_of(wall);
    if (!state.kept.stage_known) {
      std::int32_t entered = state.civil.date;
      const std::int32_t index = stage_by_days(plan.programme, state.civil.date, entered);
      enter_stage(plan, state, index, entered, events);
    }
    const std::int32_t date = photoperiod_at(stage_in_force(plan, state), state.civil).on.date;
    forget_future(state, date, wall, now);
    const bool first_page = state.kept.slots_date == 0;
    if (date > state.kept.slots_date) {
      if (!jumped) leave_page(plan, state, date, events);
      state.kept.page_ahead = days_ahead(state.kept, date, wall, jumped);
    }
    turn_page(state.kept, date);
    // Back on an older page, what was used stays used.
    const bool afresh = first_page || (jumped && date == state.kept.slots_date);
    if (afresh) rebase_slots(plan, state);
    fill_slot_table(plan, state);
  }
  set_targets(plan, state, known);
}

void rebase_slots(const Plan& plan, State& state) {
  const SlotTable before = state.slot_table;
  const std::uint64_t done = used_mask(state.kept, before.date);
  state.slot_table.valid = false;
  fill_slot_table(plan, state);
  const SlotTable& table = state.slot_table;
  if (before.valid && before.date == table.date && same_slots(before.slots, table.slots)) return;
  state.slot_due = false;
  state.kept.catch_up_pending = false;
  turn_page(state.kept, table.date);
  // Another hour of lights-on may name this photoperiod after the day before.
  if (table.date == state.kept.slots_date - 1) state.kept.slots_date = table.date;
  if (table.date != state.kept.slots_date) return;  // clock went back: all stays used
  if (floods_by_demand(plan, state)) return;        // its numbers go on after those that are used
  std::uint64_t used = 0;
  for (const FloodSlot& slot : table.slots)
    if (civil_seconds_between(slot.start, state.civil) > 0 || started_before(before, done, slot))
      used |= bit_of(slot.id.number);
  state.kept.slots_done = used;
}

FloodStart due_flood(const Plan& plan, State& state, const WallTime& wall, bool permitted,
                     Because withheld, Events& events) {
  FloodStart start;
  state.slot_due = false;
  if (stage_in_force(plan, state).fallow) state.kept.flood_missed = false;
  if (!time_is_known(wall) || stage_in_force(plan, state).fallow) return start;
  skip_past_slots(plan, state, withheld, events);
  for (const FloodSlot& slot : state.slot_table.slots) {
    if ((used_mask(state.kept, slot.id.date) & bit_of(slot.id.number)) != 0) continue;
    if (civil_seconds_between(slot.start, state.civil) < 0) break;
    if (just_watered(plan, state, slot)) {
      serve(state, slot, events);
      continue;
    }
    return take_slot(state, slot, permitted);
  }
  if (demand_is_due(plan, state, withheld, events))
    return take_slot(state, state.kept.demand.slot, permitted);
  if (!state.kept.catch_up_pending) return start;
  const std::int64_t after = late(state, state.kept.catch_up_slot);
  state.kept.catch_up_pending = after >= 0 && after <= plan.programme.catch_up_within_s;
  if (state.kept.catch_up_pending)
    start = {permitted, state.kept.catch_up_slot.id, FloodOrigin::catch_up};
  return start;
}

void mark_started(State& state, const FloodStart& start) {
  ++state.kept.tally.floods_started;
  demand_taken(state, state.last_wall_at);
  if (start.origin == FloodOrigin::slot) {
    set_used(state.kept, start.slot);
    ++state.kept.tally.floods_planned;
    state.slot_due = false;
  }
  state.kept.catch_up_pending = false;
}

void mark_seen(State& state, SlotId slot) {
  set_used(state.kept, slot);
  ++state.kept.tally.floods_planned;
  state.slot_due = false;
  demand_taken(state, state.last_wall_at);
}

std::optional<FloodSlot> coming_slot(const Plan& plan, const State& state) {
  if (!time_is_known(state.last_wall) || stage_in_force(plan, state).fallow) return std::nullopt;
  if (const DemandClock& demand = state.kept.demand; demand.slot_open) return demand.slot;
  if (const auto outlook = demand_outlook(plan, state)) {
    const StagePlan& stage = stage_in_force(plan, state);
    const SlotId id = next_demand_id(state, stage, outlook->expected);
    return FloodSlot{id, outlook->expected, outlook->expected};
  }
  for (const FloodSlot& slot : state.slot_table.slots)
    if ((used_mask(state.kept, slot.id.date) & bit_of(slot.id.number)) == 0) return slot;
  return state.slot_table.has_next ? std::optional{state.slot_table.next} : std::nullopt;
}

}  // namespace neap
