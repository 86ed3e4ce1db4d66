#include "daemon/core/budget.h"

#include <algorithm>

#include "daemon/core/limits.h"

namespace neap {
namespace {

constexpr std::int64_t kHourMs = 3'600'000;

std::int64_t hour_of(Instant t) { return tick_ms(t) / kHourMs; }
std::size_t bucket(std::int64_t hour) { return static_cast<std::size_t>(hour % kBudgetHours); }

void forget_old_hours(PumpBudget& budget, Instant now) {
  const std::int64_t hour = hour_of(now);
  const std::int64_t gone = std::min<std::int64_t>(hour - budget.newest_hour, kBudgetHours);
  for (std::int64_t i = 0; i < gone; ++i) budget.hour_ms[bucket(hour - i)] = 0;
  budget.newest_hour = std::max(budget.newest_hour, hour);
}

std::size_t newest_at(const PumpBudget& budget) {
  return static_cast<std::size_t>((budget.run_count - 1) % kBudgetRuns);
}
PumpRun& newest(PumpBudget& budget) { return budget.runs[newest_at(budget)]; }
const PumpRun& newest(const PumpBudget& budget) { return budget.runs[newest_at(budget)]; }

}  // namespace

BudgetView view_budget(const TablePlan& table, PumpBudget& budget, Instant now, bool halved) {
  forget_old_hours(budget, now);
  BudgetView view;
  view.day_limit = halved ? table.max_on_per_day / 2 : table.max_on_per_day;
  for (const std::int64_t ms : budget.hour_ms) view.day += Millis{ms};
  const std::int64_t window_began = tick_ms(now) - kHourMs;
  const int known = std::min(budget.run_count, kBudgetRuns);
  bool ring_covers_hour = known < kBudgetRuns;
  for (int i = 0; i < known; ++i) {
    const PumpRun& run = budget.runs[static_cast<std::size_t>(i)];
    if (run.began_tick <= window_began) ring_covers_hour = true;
    const std::int64_t ended = run.began_tick + run.ms;
    if (ended <= window_began) continue;
    view.hour += Millis{ended - std::max(run.began_tick, window_began)};
    if (run.began_flood && run.began_tick > window_began) ++view.floods_in_hour;
  }
  view.day_spent = view.day + kShortestRun > view.day_limit;
  // More runs in an hour than the ring holds is no schedule's doing: nothing more this hour.
  view.hour_spent = view.hour + kShortestRun > table.max_on_per_hour || !ring_covers_hour;
  return view;
}

Millis permitted_run(const TablePlan& table, const BudgetView& view, Millis used_by_flood) {
  const Millis left =
      std::min({table.max_on_per_flood - used_by_flood, table.max_on_per_hour - view.hour,
                table.max_on_per_day - view.day, limits::kPumpRunCeiling});
  return std::max(left, Millis{0});
}

void open_run(PumpBudget& budget, Millis run, bool begins_flood, Instant now) {
  forget_old_hours(budget, now);
  ++budget.run_count;
  newest(budget) = PumpRun{tick_ms(now), run.count(), begins_flood};
  budget.hour_ms[bucket(hour_of(now))] += run.count();
  budget.run_open = true;
}

void close_run(PumpBudget& budget, Instant now) {
  if (!budget.run_open) return;
  PumpRun& run = newest(budget);
  const std::int64_t used = std::clamp<std::int64_t>(tick_ms(now) - run.began_tick, 0, run.ms);
  budget.hour_ms[bucket(run.began_tick / kHourMs)] -= run.ms - used;
  run.ms = used;
  budget.run_open = false;
}

void narrow_run(const TablePlan& table, PumpBudget& budget, Millis used_by_flood, Instant now) {
  if (!budget.run_open) return;
  PumpBudget before = budget;
  close_run(before, instant(Millis{newest(before).began_tick}));
  const Millis left = permitted_run(table, view_budget(table, before, now), used_by_flood);
  PumpRun& run = newest(budget);
  const std::int64_t used = std::clamp<std::int64_t>(tick_ms(now) - run.began_tick, 0, run.ms);
  const std::int64_t ms = std::clamp(left.count(), used, run.ms);
  budget.hour_ms[bucket(run.began_tick / kHourMs)] -= run.ms - ms;
  run.ms = ms;
}

void extend_run(PumpBudget& budget, Instant now) {
  if (!budget.run_open) return;
  PumpRun& run = newest(budget);
  const std::int64_t over = tick_ms(now) - run.began_tick - run.ms;
  if (over <= 0) return;
  run.ms += over;
  forget_old_hours(budget, now);  // such a run may last a night: what it takes now is of now
  budget.hour_ms[bucket(hour_of(now))] += over;
}

PumpBudget spent_day(const TablePlan& table, Instant now) {
  PumpBudget budget;
  budget.newest_hour = hour_of(now);
  budget.hour_ms[bucket(budget.newest_hour)] = table.max_on_per_day.count();
  return budget;
}

void forfeit_run(PumpBudget& budget) { budget.run_open = false; }

Instant run_start(const PumpBudget& budget) { return instant(Millis{newest(budget).began_tick}); }

Instant run_deadline(const PumpBudget& budget) {
  if (!budget.run_open) return Instant::max();
  const PumpRun& run = newest(budget);
  return instant(Millis{run.began_tick + run.ms});
}

}  // namespace neap
