#include "daemon/core/proof_tests.h"

#include <algorithm>

#include "daemon/core/event.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"
#include "daemon/core/watch.h"

namespace neap {
namespace {

constexpr std::size_t number(ProofTest test) { return static_cast<std::size_t>(test); }

Because told(const ProofTestInfo& row, Reason of_output, Reason of_point, double more = 0) {
  if (row.output) return because(of_output, static_cast<double>(slot(*row.output)), more);
  if (row.point) return because(of_point, static_cast<double>(slot(*row.point)), more);
  return because(Reason::flood_unproven);
}

// The contact has said what it is there to say, and says that all is well again. A broken wire, a
// damp probe or a float upside down changes too.
bool came_back(Point point, const PointWatch& watch, Instant from) {
  const ContactWatch& contact = watch.contact;
  if (!watch.reading || contact.edge_count < 2) return false;
  const std::size_t before = (contact.edge_count - 2) % contact.edges.size();
  return contact.edges[before] > from && contact.worst_at && *contact.worst_at > from &&
         danger(point, contact.said) == 0;
}

// Shorter runs show nobody anything (common practice, no source).
constexpr Millis kShownRun = seconds{1};

bool pump_moved(const PumpBudget& budget, Instant from) {
  if (budget.run_count == 0 || budget.run_open) return false;
  const PumpRun& run = budget.runs[static_cast<std::size_t>((budget.run_count - 1) % kBudgetRuns)];
  return run.began_tick > tick_ms(from) && run.ms >= kShownRun.count();
}

// The valve is open, as it is without power, and was opened.
bool valve_moved(const State& state, Instant from) {
  const Dwell& dwell = state.kept.dwell[Output::drain_valve];
  if (dwell.start_count == 0 || state.last.commands[Output::drain_valve].level == kStopped)
    return false;
  const auto newest = static_cast<std::size_t>(dwell.start_count - 1) % dwell.starts.size();
  return dwell.starts[newest] > tick_ms(from);
}

bool seen(const State& state, const ProofTestInfo& row, Instant now) {
  const Instant from = std::max(now - kProofWindow, state.proofs_from);
  if (row.point) return came_back(*row.point, state.points[*row.point], from);
  if (row.output == Output::pump) return pump_moved(state.kept.budget, from);
  return row.output == Output::drain_valve && valve_moved(state, from);
}

Because not_seen(const ProofTestInfo& row) {
  // At rest the valve is open: its test goes the other way round.
  const bool valve = row.output == Output::drain_valve;
  return told(row, valve ? Reason::valve_not_seen : Reason::output_not_seen,
              Reason::point_not_seen);
}

void note(const ProofPlan& plan, State& state, ProofTest test) {
  const bool known = state.last_wall.quality != TimeQuality::unset;
  state.kept.proofs[number(test)] = {true, known, known ? state.last_wall.unix_ms : 0,
                                     *plan.hardware[number(test)]};
}

}  // namespace

bool is_proven(const ProofPlan& plan, const ProofRecords& records, ProofTest test) {
  const auto& wanted = plan.hardware[number(test)];
  const ProofRecord& record = records[number(test)];
  return !wanted || (record.done && record.hardware == *wanted);
}

Because unproven(const ProofPlan& plan, const ProofRecords& records) {
  for (const ProofTestInfo& row : kProofTests)
    if (!is_proven(plan, records, row.test))
      return told(row, Reason::output_unproven, Reason::point_unproven);
  return {};
}

bool parts_are_proven(const ProofPlan& plan, const ProofRecords& records) {
  const Because first = unproven(plan, records);
  return first.reason == Reason::none || first.reason == Reason::flood_unproven;
}

Because proof_due(const Plan& plan, const State& state) {
  if (state.last_wall.quality == TimeQuality::unset) return {};
  const ProofTestInfo* oldest = nullptr;
  std::int64_t oldest_ms = state.last_wall.unix_ms - plan.proofs.every.count();
  for (const ProofTestInfo& row : kProofTests) {
    const ProofRecord& record = state.kept.proofs[number(row.test)];
    const bool part = row.output || row.point;
    if (!part || !plan.proofs.hardware[number(row.test)] || !record.dated) continue;
    if (!is_proven(plan.proofs, state.kept.proofs, row.test) || record.at_unix_ms > oldest_ms)
      continue;
    oldest = &row;
    oldest_ms = record.at_unix_ms;
  }
  if (oldest == nullptr) return {};
  const Millis age{state.last_wall.unix_ms - oldest_ms};
  return told(*oldest, Reason::output_proof_due, Reason::point_proof_due,
              static_cast<double>(age / hours{24}));
}

Because pass_proof_test(const Plan& plan, State& state, ProofTest test, Instant now) {
  const ProofTestInfo& row = info(test);
  if (!plan.proofs.hardware[number(test)]) return because(Reason::proof_not_wanted);
  if (!row.output && !row.point) return because(Reason::flood_proves_itself);
  if (!seen(state, row, now)) return not_seen(row);
  note(plan.proofs, state, test);
  return {};
}

Because judge_flood(const Plan& plan, const FloodNews& news) {
  const bool level = plan.points[Point::reservoir_level].has_value();
  const bool shows_fill = level || plan.points[Point::tray_full];
  const bool shows_drain = level || plan.points[Point::tray_wet];
  if ((shows_fill && !news.fill_seen) || (shows_drain && !news.drain_seen)) return {};
  return because(shows_fill && shows_drain ? Reason::flood_proven : Reason::flood_answered_for);
}

bool note_flood_proof(const Plan& plan, State& state) {
  if (!plan.proofs.hardware[number(ProofTest::flood)]) return false;
  const bool news = !is_proven(plan.proofs, state.kept.proofs, ProofTest::flood);
  note(plan.proofs, state, ProofTest::flood);
  return news;
}

Event proof_event(ProofTest test) {
  const ProofTestInfo& row = info(test);
  Event event;
  event.kind = EventKind::proof_test;
  event.number = static_cast<std::int32_t>(test);
  event.output = row.output.value_or(event.output);
  event.point = row.point.value_or(event.point);
  event.because = row.output
                      ? because(Reason::output_proven, static_cast<double>(slot(*row.output)))
                  : row.point ? because(Reason::point_proven, static_cast<double>(slot(*row.point)))
                              : because(Reason::flood_proven);
  return event;
}

void date_proofs(State& state) {
  if (state.last_wall.quality == TimeQuality::unset) return;
  for (ProofRecord& record : state.kept.proofs)
    if (record.done && !record.dated) {
      record.dated = true;
      record.at_unix_ms = state.last_wall.unix_ms;
    }
}

}  // namespace neap
