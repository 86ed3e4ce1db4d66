#include "daemon/core/solution_watch.h"

#include <algorithm>

#include "daemon/core/plan.h"
#include "daemon/core/probe_calibration.h"
#include "daemon/core/schedule.h"
#include "daemon/core/state.h"
#include "daemon/core/water_temperature.h"

namespace neap {
namespace {

constexpr Millis kDay = hours{24};

// Margins: common practice, no source.
struct BandRow {
  Hand hand;
  double back;  // a band is entered again this far inside it
  std::optional<double> far;
  Alarm outside;
  std::optional<Alarm> far_alarm;
  Reason reason;
};
constexpr std::array<BandRow, kWatchedHands> kBands{{
    {Hand::ph, 0.1, 0.5, Alarm::ph_off_band, Alarm::ph_far_off, Reason::ph_off},
    {Hand::ec, 0.05, 0.5, Alarm::ec_off_band, Alarm::ec_far_off, Reason::ec_off},
    {Hand::level, 1, std::nullopt, Alarm::level_off_band, std::nullopt, Reason::level_off},
    {Hand::temperature, 0.5, 3, Alarm::water_off_band, Alarm::water_far_off, Reason::water_off},
}};

bool stood(const State& state, Alarm alarm) {
  return state.kept.alarms[static_cast<std::size_t>(alarm)].condition;
}

const Because& stands_by(const State& state, Alarm alarm) {
  return state.kept.alarms[static_cast<std::size_t>(alarm)].because;
}

// In the tray: the level is not the reservoir's.
bool water_away(const State& state) {
  return state.flood.phase != FloodPhase::idle && state.flood.phase != FloodPhase::rest;
}

void tell(Conditions& out, Alarm alarm, Because because) {
  out[static_cast<std::size_t>(alarm)] = {true, because};
}

// Two clocks may differ by this.
constexpr Millis kSkew = minutes{1};

// Wall time since; none while the time of day is not known, nor of a date that lies ahead of a time
// that others confirm: the clock that wrote it was wrong. A clock that nobody confirms may itself
// be behind, so that what lies ahead of it is of just now.
std::optional<Millis> since(const State& state, std::int64_t unix_ms) {
  if (!time_is_known(state.last_wall)) return std::nullopt;
  const Millis passed{state.last_wall.unix_ms - unix_ms};
  if (passed < -kSkew && state.last_wall.quality == TimeQuality::synced) return std::nullopt;
  return std::max(passed, Millis{0});
}

// What stood goes on standing.
void keep_standing(const State& state, const BandRow& row, Conditions& out) {
  if (stood(state, row.outside)) tell(out, row.outside, stands_by(state, row.outside));
  if (row.far_alarm && stood(state, *row.far_alarm))
    tell(out, *row.far_alarm, stands_by(state, *row.far_alarm));
}

void band_conditions(const Plan& plan, const State& state, Conditions& out) {
  const StagePlan& stage = stage_in_force(plan, state);
  for (const BandRow& row : kBands) {
    const auto& band = stage.solution[static_cast<std::size_t>(row.hand)];
    if (!band) continue;
    const auto seen = solution_seen(plan, state, row.hand);
    // A fault that a person told is not over because nobody looked again.
    const bool told = state.kept.hands[static_cast<std::size_t>(row.hand)].known;
    if ((!seen && told) || (seen && row.hand == Hand::level && water_away(state))) {
      keep_standing(state, row, out);
      continue;
    }
    if (!seen) continue;
    const Off was = row.far_alarm && stood(state, *row.far_alarm) ? Off::far
                    : stood(state, row.outside)                   ? Off::outside
                                                                  : Off::inside;
    const Range watched = row.hand == Hand::temperature ? watched_water(plan, *band) : *band;
    const Off off = judge_band(row.hand, watched, seen->value, was);
    const Because why = because(row.reason, seen->value, band->low, band->high);
    if (off == Off::far && row.far_alarm) tell(out, *row.far_alarm, why);
    if (off != Off::inside) tell(out, row.outside, why);
  }
}

// Which quantity of the stage's targets has waited longest for a check.
void check_condition(const Plan& plan, const State& state, Conditions& out) {
  if (plan.programme.check_every == Millis{0} || !time_is_known(state.last_wall)) return;
  const StagePlan& stage = stage_in_force(plan, state);
  for (const BandRow& row : kBands) {
    const HandInfo& hand = info(row.hand);
    const HandReading& last = state.kept.hands[static_cast<std::size_t>(row.hand)];
    if (!stage.solution[static_cast<std::size_t>(row.hand)]) continue;
    if (hand.probe && state.points[*hand.probe].reading.usable()) continue;
    const auto age = since(state, last.taken_unix_ms);
    if (last.known && age && *age < plan.programme.check_every) continue;
    const double hours_ago = last.known && age ? static_cast<double>(age->count() / 3'600'000) : 0;
    return tell(out, Alarm::hand_check_due,
                because(Reason::hand_check_due, static_cast<double>(slot(*hand.probe)), hours_ago));
  }
}

bool has_targets(const StagePlan& stage) {
  return std::any_of(stage.solution.begin(), stage.solution.end(),
                     [](const auto& band) { return band.has_value(); });
}

// Since the change that was told last; where none was, since the first stage with targets, because
// a grow whose grower never tells of a change would otherwise never be reminded of one. A stage
// without targets for its solution is not watched.
std::optional<Millis> solution_is_old(const Plan& plan, const State& state) {
  const SolutionAge& age = state.kept.solution_age;
  if (const auto told = age.known ? since(state, age.changed_unix_ms) : std::nullopt) return told;
  if (!time_is_known(state.last_wall) || !state.kept.stage_known) return std::nullopt;
  if (!has_targets(stage_in_force(plan, state))) return std::nullopt;
  const std::int32_t from =
      age.watched_from != 0 ? age.watched_from : state.kept.stage_entered_date;
  return kDay * std::max(state.civil.date - from, 0);
}

void change_condition(const Plan& plan, const State& state, Conditions& out) {
  const SolutionAge& age = state.kept.solution_age;
  const auto passed = solution_is_old(plan, state);
  const bool old =
      passed && plan.programme.change_every > Millis{0} && *passed >= plan.programme.change_every;
  const bool replaced = plan.programme.change_after > Litres{0} &&
                        Litres{age.replaced_l} >= plan.programme.change_after;
  if (!old && !replaced) return;
  tell(out, Alarm::change_due,
       because(Reason::change_due, passed ? static_cast<double>(*passed / kDay) : 0,
               age.replaced_l));
}

void stage_condition(const Plan& plan, const State& state, Conditions& out) {
  if (!time_is_known(state.last_wall)) return;
  const StagePlan& stage = stage_in_force(plan, state);
  const auto& stages = plan.programme.stages;
  const auto next = static_cast<std::size_t>(state.kept.stage_index) + 1;
  const StageAdvice advice = advise_stage(plan.programme, state.kept.stage_index,
                                          state.kept.stage_entered_date, state.civil.date);
  const int left = stage.days - advice.day + 1;
  if (stage.days == 0 || next >= stages.size() || advice.due) return;
  if (left > plan.programme.stage_notice_days) return;
  tell(out, Alarm::stage_coming, because(Reason::stage_coming, left));
}

}  // namespace

std::optional<SolutionSeen> solution_seen(const Plan& plan, const State& state, Hand hand) {
  const HandInfo& row = info(hand);
  if (row.probe && plan.points[*row.probe]) {
    const auto& reading = state.points[*row.probe].reading;
    if (reading.usable()) return SolutionSeen{*reading, false};
  }
  const HandReading& last = state.kept.hands[static_cast<std::size_t>(hand)];
  const auto age = since(state, last.taken_unix_ms);
  if (!last.known || !age || *age > kHandLasts) return std::nullopt;
  return SolutionSeen{last.value, true};
}

Off judge_band(Hand hand, const Range& band, double value, Off was) {
  const BandRow& row = kBands[static_cast<std::size_t>(hand)];
  const double over = std::max(value - band.high, band.low - value);  // negative inside
  // A narrow band is never asked to be entered further than its middle.
  const double back = std::min(row.back, (band.high - band.low) / 2);
  const double far_back = was == Off::far ? row.back : 0;
  if (row.far && over > *row.far - far_back) return Off::far;
  return over > (was == Off::inside ? 0 : -back) ? Off::outside : Off::inside;
}

void follow_solution_age(SolutionAge& age, const HandNote& note) {
  if (note.hand == Hand::change) {
    if (note.amends && !note.value && note.id == age.change_id) {
      age = {.watched_from = age.watched_from};
      return;
    }
    if (note.amends || !note.value || note.id == age.change_id) return;
    if (age.known && note.taken_unix_ms < age.changed_unix_ms) return;
    age = {true, note.taken_unix_ms, note.id, 0, age.topup_id, age.watched_from};
  } else if (note.hand == Hand::topup) {
    // A top-up that is corrected afterwards counts as it was first told: the sum is a reminder.
    if (note.amends || !note.value || note.id == age.topup_id) return;
    if (age.known && note.taken_unix_ms < age.changed_unix_ms) return;
    age.replaced_l += *note.value;
    age.topup_id = note.id;
  }
}

void follow_solution_stage(SolutionAge& age, const StagePlan& stage, std::int32_t date) {
  if (!has_targets(stage))
    age.watched_from = 0;
  else if (age.watched_from == 0)
    age.watched_from = date;
}

void solution_conditions(const Plan& plan, const State& state, Conditions& out) {
  band_conditions(plan, state, out);
  check_condition(plan, state, out);
  change_condition(plan, state, out);
  stage_condition(plan, state, out);
  if (const Because due = calibration_due(plan, state); due.reason != Reason::none)
    tell(out, Alarm::calibration_due, due);
}

}  // namespace neap
