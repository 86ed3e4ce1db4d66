#include "daemon/core/proof_tests.h"

#include "daemon/core/event.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {
namespace {

constexpr std::size_t number(ProofTest test) { return static_cast<std::size_t>(test); }

Because told(const ProofTestInfo& row, Reason of_output, Reason of_point, double more = 0) {
  if (row.output) return because(of_output, static_cast<double>(slot(*row.output)), more);
  if (row.point) return because(of_point, static_cast<double>(slot(*row.point)), more);
  return because(Reason::flood_unproven);
}

// The contact has left the state in which it now is, and come back to it.
bool came_back(const PointWatch& watch, Instant now) {
  const ContactWatch& contact = watch.contact;
  if (!watch.reading || contact.edge_count < 2) return false;
  const std::size_t before = (contact.edge_count - 2) % contact.edges.size();
  return contact.edges[before] > now - kProofWindow;
}

bool pump_moved(const PumpBudget& budget, Instant now) {
  if (budget.run_count == 0 || budget.run_open) return false;
  const auto newest = static_cast<std::size_t>((budget.run_count - 1) % kBudgetRuns);
  return budget.runs[newest].began_tick > tick_ms(now - kProofWindow);
}

// The valve is open, as it is without power, and was opened.
bool valve_moved(const State& state, Instant now) {
  const Dwell& dwell = state.kept.dwell[Output::drain_valve];
  if (dwell.start_count == 0 || state.last.commands[Output::drain_valve].level == kStopped)
    return false;
  const auto newest = static_cast<std::size_t>(dwell.start_count - 1) % dwell.starts.size();
  return dwell.starts[newest] > tick_ms(now - kProofWindow);
}

bool seen(const State& state, const ProofTestInfo& row, Instant now) {
  if (row.point) return came_back(state.points[*row.point], now);
  if (row.output == Output::pump) return pump_moved(state.kept.budget, now);
  return row.output == Output::drain_valve && valve_moved(state, now);
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
  if (!seen(state, row, now)) return told(row, Reason::output_not_seen, Reason::point_not_seen);
  note(plan.proofs, state, test);
  return {};
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
