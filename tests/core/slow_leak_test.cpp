// Goal: what the daemon does about a slow leak: tells it in litres a day, spares water, starves
// nobody. Method: the whole scan on the rig (the detector itself: balance_test.cpp).
#include <gtest/gtest.h>

#include "daemon/core/budget.h"
#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr std::int32_t kEvening = 21 * 3600;  // the last flood of the day is over

// Loses so much of the reservoir, day and night.
void leak(Rig& rig, double l_per_h) {
  rig.air = [l_per_h](Rig& r) { r.reservoir_l -= l_per_h / 3600; };
}

const AlarmRecord& record(const Rig& rig) {
  return rig.state.kept.alarms[static_cast<std::size_t>(Alarm::slow_leak)];
}

TEST(SlowLeak, IsToldInLitresADayTheNextMorning) {
  Rig rig{strawberry_plan(), kEvening};
  leak(rig, 0.3);
  rig.run(hours{14});
  ASSERT_EQ(rig.alarm(Alarm::slow_leak), AlarmState::unacknowledged);
  EXPECT_EQ(record(rig).because.reason, Reason::slow_leak);
  EXPECT_NEAR(record(rig).because.args[0], 7.2, 0.5);
  EXPECT_FALSE(rig.latched(Latch::lost_water)) << "no flood is withheld for it";
}

TEST(SlowLeak, ATentThatOnlyEvaporatesAndDrinksTellsNothingForAWeek) {
  Rig rig{strawberry_plan(), kEvening};
  // 10 mL/h past the lid; what each flood leaves in the medium, 1.5 L, the plants have drunk.
  rig.air = [](Rig& r) {
    r.reservoir_l -= 0.01 / 3600;
    if (r.state.flood.phase == FloodPhase::soak && r.tray_l > 1) r.tray_l -= 1.5 / 480;
    if (r.reservoir_l < 60) r.reservoir_l += 10;
  };
  rig.run(hours{24 * 7});
  EXPECT_EQ(record(rig).raised_count, 0u);
  EXPECT_GT(rig.rows().size(), 20u);
}

TEST(SlowLeak, EvidenceIsKeptOverARestart) {
  Rig rig{strawberry_plan(), kEvening};
  leak(rig, 0.15);
  rig.run(hours{8});
  const double score = rig.state.kept.balance.score;
  ASSERT_GT(score, 0);
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  rig.run(minutes{5});
  EXPECT_EQ(rig.state.kept.balance.score, score);
}

TEST(SlowLeak, HalvesTheDaysPumpTime) {
  const TablePlan table = small_table();
  PumpBudget budget;
  const Instant now = instant(Millis{4'294'967'000});
  EXPECT_EQ(view_budget(table, budget, now).day_limit, table.max_on_per_day);
  const BudgetView halved = view_budget(table, budget, now, true);
  EXPECT_EQ(halved.day_limit, table.max_on_per_day / 2);
  budget.hour_ms[0] = (table.max_on_per_day / 2).count();
  EXPECT_TRUE(view_budget(table, budget, now, true).day_spent);
  EXPECT_FALSE(view_budget(table, budget, now).day_spent);
}

// A flood takes the pump a little over ten minutes; three begin in half a day's time.
Rig with_a_standing_leak(Medium medium) {
  Rig rig{strawberry_plan(), 5 * 3600 + 1800};
  rig.plan.table.medium = medium;
  rig.plan.table.max_on_per_day = minutes{44};
  rig.air = [](Rig& r) { r.state.kept.balance = {9, 0.3, 12}; };
  return rig;
}

TEST(SlowLeak, WithholdsWhatIsOverHalfOfTheDayWhileTheRootsCanWait) {
  Rig rig = with_a_standing_leak(Medium::coco);  // half of the roots' time is 12 h
  rig.run(hours{17});
  EXPECT_EQ(rig.rows().size(), 3u) << "of four";
  EXPECT_EQ(rig.state.kept.alarms[static_cast<std::size_t>(Alarm::pump_budget)].because.reason,
            Reason::budget_day);
}

TEST(SlowLeak, IsNoReasonToLetRootsDry) {
  Rig rig = with_a_standing_leak(Medium::clay);  // half of the roots' time is 3 h
  rig.run(hours{17});
  EXPECT_EQ(rig.rows().size(), 4u);
  for (const CycleRow& row : rig.rows()) EXPECT_EQ(row.outcome, FloodOutcome::complete);
  EXPECT_EQ(rig.alarm(Alarm::roots_thirsty), AlarmState::normal);
}

}  // namespace
}  // namespace neap::test
