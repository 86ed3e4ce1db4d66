// Goal: in week one neap reads a tent whose pump a timer runs: each of its floods is put down with
// its litres, the pump's line stays safe, and a leak is told as one that neap cannot stop; then the
// fan is handed over while the pump stays with the timer. Method: the demo's tent with its own
// pump run past neap ("as with a switch by hand"), the whole daemon.
#include <gtest/gtest.h>

#include "tests/scenarios/grow.h"

namespace neap::scenarios {
namespace {

const std::pair<std::string, std::string> kPumpIsTheTimers{
    "  pump:\n    driver: simulated\n", "  pump:\n    driver: simulated\n    hand: another\n"};

std::vector<journal::CycleEntry> floods_of(Grow& grow) { return grow.read()->cycles({}); }

// The gate has opened a driver for it, and could write.
bool has_line(Grow& grow, Output output) { return grow.daemon().gate().driven(output).has_value(); }

// The timer runs the pump for 9 min at each of these hours.
void timer_day(Grow& grow, std::initializer_list<int> at_hours) {
  for (const int hour : at_hours) {
    grow.run_to(hours{hour} + minutes{20});
    ASSERT_TRUE(grow.fault("pump_welded", true));
    grow.run_for(minutes{9});
    EXPECT_EQ(grow.level(Output::pump), kStopped);
    EXPECT_TRUE(grow.truth().floats.pump_running);
    ASSERT_TRUE(grow.fault("pump_welded", false));
  }
}

TEST(AnotherHand, ADayOfATimersFloodsIsPutDownAndDrivesNothing) {
  Grow grow(quiet_demo({kPumpIsTheTimers}));
  ASSERT_EQ(grow.problem(), "");
  timer_day(grow, {2, 6, 10, 14});
  grow.run_to(hours{24});
  const auto rows = floods_of(grow);
  ASSERT_EQ(rows.size(), 4u);
  for (const auto& entry : rows) {
    EXPECT_EQ(entry.row.origin, FloodOrigin::another_hand);
    EXPECT_EQ(entry.row.outcome, FloodOutcome::complete);
    EXPECT_TRUE(entry.row.litres_known);
    EXPECT_GT(entry.row.litres_out, 15);
  }
  EXPECT_EQ(grow.state().kept.kernel, KernelState{});
  for (const Alarm alarm : {Alarm::pump_in_hand, Alarm::flood_missed, Alarm::not_ours_to_stop})
    EXPECT_FALSE(grow.alarm_stands(alarm)) << info(alarm).name;
  EXPECT_TRUE(grow.state().kept.roots.proven);
  EXPECT_FALSE(has_line(grow, Output::pump)) << "the gate has no line to the pump";
  EXPECT_TRUE(has_line(grow, Output::exhaust_fan));
}

TEST(AnotherHand, ALeakWhileTheTimerPumpsIsToldAsNotOursToStop) {
  Grow grow(quiet_demo({kPumpIsTheTimers}));
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(hours{2});
  ASSERT_TRUE(grow.fault("pump_welded", true));
  grow.run_for(minutes{2});
  ASSERT_TRUE(grow.fault("leak", true));
  EXPECT_TRUE(
      grow.run_until([&] { return grow.alarm_stands(Alarm::not_ours_to_stop); }, minutes{2}));
  EXPECT_TRUE(grow.alarm_stands(Alarm::leak));
}

TEST(AnotherHand, InModeObserveNoLineIsDrivenAtAll) {
  Grow grow(quiet_demo({{"mode: control", "mode: observe"}}));
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(hours{8});
  for (const OutputInfo& row : kOutputs) EXPECT_FALSE(has_line(grow, row.output)) << row.name;
  EXPECT_TRUE(floods_of(grow).empty());
}

}  // namespace
}  // namespace neap::scenarios
