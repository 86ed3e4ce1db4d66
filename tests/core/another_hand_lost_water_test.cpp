// Water that another hand pumps, and that goes elsewhere: told as if it were neap's own flood.
#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr std::int32_t kMorning = 6 * 3600 + 1800 + 17;

Plan observed() {
  Plan plan = strawberry_plan();
  plan.mode = Mode::observe;
  for (const OutputInfo& row : kOutputs)
    if (auto& output = plan.outputs[row.output]) output->driven = false;
  return plan;
}

// The timer pumps for a minute, and the tray drains.
void pump_for_a_minute(Rig& rig) {
  rig.run(minutes{5});
  rig.other_hand_pumps = true;
  rig.run(minutes{1});
  rig.other_hand_pumps = false;
  rig.run(minutes{70});
}

TEST(AnotherHand, WaterThatATimerPumpsToTheFloorIsLostWater) {
  Rig rig(observed(), kMorning);
  rig.hose_burst = true;
  rig.run(minutes{5});
  rig.other_hand_pumps = true;
  EXPECT_TRUE(rig.run_until([&] { return rig.latched(Latch::lost_water); }, minutes{8}));
  EXPECT_EQ(rig.alarm(Alarm::not_ours_to_stop), AlarmState::unacknowledged);
}

// Half a flood on the floor: too little for the tray's own balance, and no retry asks for it.
TEST(AnotherHand, HalfAFloodThatDoesNotComeBackIsLostWater) {
  Rig rig(observed(), kMorning);
  rig.hose_burst = true;
  pump_for_a_minute(rig);
  EXPECT_TRUE(rig.latched(Latch::lost_water));
}

TEST(AnotherHand, HalfAFloodThatComesBackIsNone) {
  Rig rig(observed(), kMorning);
  pump_for_a_minute(rig);
  EXPECT_FALSE(rig.latched(Latch::lost_water));
}

TEST(AnotherHand, AReservoirThatFallsWhileThePumpIsSeenToStandIsNoFlood) {
  Plan plan = observed();
  plan.points[Point::pump_running] = plan.points[Point::tray_full];
  Rig rig(plan, kMorning);
  rig.values[Point::pump_running] = 0;
  rig.run(minutes{5});
  rig.air = [](Rig& r) { r.reservoir_l -= 0.05; };  // 180 L/h out of a fitting
  rig.run(minutes{2});
  EXPECT_TRUE(rig.latched(Latch::lost_water));
  EXPECT_EQ(rig.state.flood.phase, FloodPhase::idle);
}

}  // namespace
}  // namespace neap::test
