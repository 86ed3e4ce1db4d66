// Goal: a pump whose contact welds in a flood is latched and told within ten seconds of the stop it
// did not obey; a switch set to hand is told and latches nothing. Method: the demo, which
// has the pump's own proof; the real daemon, the simulated tent's pump.
#include <gtest/gtest.h>

#include "tests/scenarios/grow.h"

namespace neap::scenarios {
namespace {

constexpr Millis kFirstSlot = minutes{45};

TEST(PumpContact, AWeldIsLatchedAndToldWithinTenSecondsOfTheStop) {
  Grow grow(quiet_demo());
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(kFirstSlot + minutes{1});
  ASSERT_EQ(grow.level(Output::pump), kRunning);
  ASSERT_TRUE(grow.fault("pump_welded", true));
  ASSERT_TRUE(grow.run_until([&] { return grow.level(Output::pump) == kStopped; }, hours{1}));
  ASSERT_TRUE(grow.truth().floats.pump_running);
  EXPECT_TRUE(grow.run_until([&] { return grow.latched(Latch::pump_welded); }, seconds{10}));
  EXPECT_TRUE(grow.alarm_stands(Alarm::pump_welded));
  EXPECT_FALSE(grow.ask(reset_of(Latch::pump_welded)).accepted);
  ASSERT_TRUE(grow.fault("pump_welded", false));  // unplugged, its relay replaced
  grow.run_for(minutes{1});
  EXPECT_TRUE(grow.latched(Latch::pump_welded));
  EXPECT_TRUE(grow.ask(reset_of(Latch::pump_welded)).accepted);
}

TEST(PumpContact, AHandAtTheSwitchIsToldAndLatchesNothing) {
  Grow grow(quiet_demo());
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(minutes{10});  // before the first flood: the pump was seen to stand
  ASSERT_TRUE(grow.fault("pump_welded", true));
  EXPECT_TRUE(grow.run_until([&] { return grow.alarm_stands(Alarm::pump_in_hand); }, seconds{10}));
  EXPECT_FALSE(grow.latched(Latch::pump_welded));
  ASSERT_TRUE(grow.fault("pump_welded", false));
  grow.run_to(hours{6});
  EXPECT_FALSE(grow.alarm_stands(Alarm::pump_in_hand));
  EXPECT_FALSE(grow.latched(Latch::pump_welded));
}

TEST(PumpContact, ADayOfFloodsWithAProofAccusesNobody) {
  Grow grow(quiet_demo());
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(hours{24});
  EXPECT_EQ(grow.state().kept.alarms[static_cast<std::size_t>(Alarm::pump_in_hand)].raised_count,
            0u);
  EXPECT_EQ(grow.state().kept.kernel, KernelState{});
}

}  // namespace
}  // namespace neap::scenarios
