// Pump budgets: how long the pump may run in one flood, in a rolling hour and in a rolling day.
// A run is debited whole before it begins and credited when it ends; nothing here trusts wall time.
#pragma once

#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

struct BudgetView {
  Millis hour{};       // spent in the rolling hour
  Millis day{};        // spent in the rolling day, rounded against the pump
  Millis day_limit{};  // no run begins once so much is spent
  int floods_in_hour = 0;
  bool hour_spent = false;
  bool day_spent = false;
};
// Also forgets hours that have left the window. `halved`: a day's runs begin in half of its time;
// one that has begun may still use what the day has.
BudgetView view_budget(const TablePlan& table, PumpBudget& budget, Instant now,
                       bool halved = false);

// The longest run permitted now, given what this flood has already used; never negative.
Millis permitted_run(const TablePlan& table, const BudgetView& view, Millis used_by_flood);

// Debits `run` whole. Call before the pump is commanded to run.
void open_run(PumpBudget& budget, Millis run, bool begins_flood, Instant now);
// Credits what was not used. No-op when no run is open.
void close_run(PumpBudget& budget, Instant now);
// Settings that allow less end a run under way by what they leave; `used_by_flood`: before it.
void narrow_run(const TablePlan& table, PumpBudget& budget, Millis used_by_flood, Instant now);
// A run that outlasts its debit (the pump does not stop, or neapd hung) costs what it takes.
void extend_run(PumpBudget& budget, Instant now);
// A day's time spent at `now`: what to assume where nothing is known of it.
PumpBudget spent_day(const TablePlan& table, Instant now);
// After a restart the open run's true length is unknown: it stays debited whole.
void forfeit_run(PumpBudget& budget);
// Start of the open run, if one is open.
Instant run_start(const PumpBudget& budget);
// Its end; Instant::max() when none is.
Instant run_deadline(const PumpBudget& budget);

// A start with less than this left would only wet the hose.
constexpr Millis kShortestRun = seconds{10};

}  // namespace neap
