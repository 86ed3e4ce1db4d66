// A fan that is held slow is started harder than asked, for a moment.
#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr Permille kSlow{200};
constexpr Permille kStart{600};

Plan kicking_plan() {
  Plan plan = strawberry_plan();
  OutputPlan& fan = *plan.outputs[Output::exhaust_fan];
  fan.variable = true;
  fan.safe = kStopped;
  fan.floor = kSlow;
  fan.start_level = kStart;
  fan.start_for = seconds{3};
  return plan;
}

// A rig whose fan has stood for a minute.
Rig standing(Plan plan, Stepping stepping) {
  Rig rig{std::move(plan), 12 * 3600, stepping};
  rig.run(minutes{1});
  EXPECT_TRUE(rig.ask(hold(Output::exhaust_fan, kStopped, minutes{60})).accepted);
  rig.run(minutes{1});
  EXPECT_EQ(rig.level(Output::exhaust_fan), kStopped);
  return rig;
}

class StartKick : public testing::TestWithParam<Stepping> {};

TEST_P(StartKick, LastsItsTimeAndThenTheLevelIsTheOneAskedFor) {
  Rig rig = standing(kicking_plan(), GetParam());
  ASSERT_TRUE(rig.ask(hold(Output::exhaust_fan, kSlow, minutes{60})).accepted);
  EXPECT_EQ(rig.level(Output::exhaust_fan), kStart);
  EXPECT_EQ(rig.reason(Output::exhaust_fan), Reason::start_kick);
  rig.run(seconds{2});
  EXPECT_EQ(rig.level(Output::exhaust_fan), kStart);
  rig.run(seconds{1});
  EXPECT_EQ(rig.level(Output::exhaust_fan), kSlow);
  rig.run(minutes{5});
  EXPECT_EQ(rig.level(Output::exhaust_fan), kSlow);
}

TEST_P(StartKick, IsNoStepOfTheSlope) {
  Plan plan = kicking_plan();
  plan.outputs[Output::exhaust_fan]->slew_per_min = 60;
  Rig rig = standing(std::move(plan), GetParam());
  ASSERT_TRUE(rig.ask(hold(Output::exhaust_fan, kSlow, minutes{60})).accepted);
  rig.run(seconds{3});
  EXPECT_EQ(rig.level(Output::exhaust_fan), kSlow);
  ASSERT_TRUE(rig.ask(hold(Output::exhaust_fan, kRunning, minutes{60})).accepted);
  rig.run(minutes{1});
  EXPECT_LT(rig.level(Output::exhaust_fan), kStart);
  EXPECT_GT(rig.level(Output::exhaust_fan), kSlow);
}

TEST_P(StartKick, StopsAtOnceWhenTheFanIsToStop) {
  Rig rig = standing(kicking_plan(), GetParam());
  ASSERT_TRUE(rig.ask(hold(Output::exhaust_fan, kSlow, minutes{60})).accepted);
  rig.run(seconds{1});
  ASSERT_TRUE(rig.ask(hold(Output::exhaust_fan, kStopped, minutes{60})).accepted);
  EXPECT_EQ(rig.level(Output::exhaust_fan), kStopped);
}

TEST_P(StartKick, NeverComesToAFanThatTurnsNorToOneAskedForMore) {
  Rig rig = standing(kicking_plan(), GetParam());
  ASSERT_TRUE(rig.ask(hold(Output::exhaust_fan, Permille{800}, minutes{60})).accepted);
  EXPECT_EQ(rig.level(Output::exhaust_fan), Permille{800});
  rig.run(minutes{1});
  ASSERT_TRUE(rig.ask(hold(Output::exhaust_fan, kSlow, minutes{60})).accepted);
  EXPECT_EQ(rig.level(Output::exhaust_fan), kSlow);
}

TEST_P(StartKick, KeepsToTheCeilingOfQuietHours) {
  Plan plan = kicking_plan();
  plan.outputs[Output::exhaust_fan]->quiet_ceiling = Permille{300};
  plan.programme.quiet = {true, 11 * 3600, 14 * 3600};
  Rig rig = standing(std::move(plan), GetParam());
  ASSERT_TRUE(rig.state.targets.quiet);
  rig.ask({.kind = RequestKind::release, .output = Output::exhaust_fan});
  Permille most = kStopped;
  rig.after_scan = [&](const Rig& r) { most = std::max(most, r.level(Output::exhaust_fan)); };
  rig.values[Point::canopy_humidity] = 90;
  rig.run(minutes{20});
  EXPECT_GT(most, kStopped);
  EXPECT_LE(most, Permille{300});
}

TEST_P(StartKick, IsOverWhenTheFanIsToStopAndMustStillTurn) {
  Rig rig = standing(kicking_plan(), GetParam());
  rig.plan.outputs[Output::exhaust_fan]->min_on = minutes{5};
  ASSERT_TRUE(rig.ask(hold(Output::exhaust_fan, kSlow, minutes{60})).accepted);
  rig.run(seconds{1});
  ASSERT_TRUE(rig.ask(hold(Output::exhaust_fan, kStopped, minutes{60})).accepted);
  rig.run(seconds{5});
  EXPECT_EQ(rig.level(Output::exhaust_fan), kSlow);
  rig.run(minutes{5});
  EXPECT_EQ(rig.level(Output::exhaust_fan), kStopped);
}

INSTANTIATE_TEST_SUITE_P(Stepping, StartKick,
                         testing::Values(Stepping::each_second, Stepping::next_wake),
                         [](const auto& run) {
                           return run.param == Stepping::each_second ? "EachSecond" : "NextWake";
                         });

}  // namespace
}  // namespace neap::test
