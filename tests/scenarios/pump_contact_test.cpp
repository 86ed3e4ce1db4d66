// Goal: a pump whose contact welds in a flood is latched and told by the first reading of its proof
// 3 s after the stop it did not obey (read each 10 s in the demo, hence 14 s); a switch set to hand
// is told and latches nothing. Method: the demo, which has the pump's own proof; the real daemon,
// the simulated tent's pump.
#include <gtest/gtest.h>

#include "tests/scenarios/grow.h"

namespace neap::scenarios {
namespace {

constexpr Millis kFirstSlot = minutes{45};

TEST(PumpContact, AWeldIsLatchedAndToldByTheNextReadingAfterTheStop) {
  Grow grow(quiet_demo());
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(kFirstSlot + minutes{1});
  ASSERT_EQ(grow.level(Output::pump), kRunning);
  ASSERT_TRUE(grow.fault("pump_welded", true));
  ASSERT_TRUE(grow.run_until([&] { return grow.level(Output::pump) == kStopped; }, hours{1}));
  ASSERT_TRUE(grow.truth().floats.pump_running);
  EXPECT_TRUE(grow.run_until([&] { return grow.latched(Latch::pump_welded); }, seconds{14}));
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

// --- two contacts in series -------------------------------------------------------------------

constexpr double kPumpLitresPerS = 600.0 / 3600;

std::string demo_with_two() {
  return quiet_demo({{"  pump:\n    driver: simulated\n",
                      "  pump:\n    driver: simulated\n"
                      "  pump_series:\n    driver: simulated\n"}});
}

void run_to_the_end_of_the_fill(Grow& grow) {
  ASSERT_TRUE(
      grow.run_until([&] { return grow.state().flood.phase == FloodPhase::fill; }, hours{24}));
  ASSERT_TRUE(
      grow.run_until([&] { return grow.state().flood.phase == FloodPhase::drain; }, hours{1}));
}

TEST(PumpContact, WithASecondOneAWeldInAFloodCostsFourSecondsOfWaterAndIsFound) {
  for (const char* weld : {"pump_contact_welded", "pump_series_welded"}) {
    SCOPED_TRACE(weld);
    Grow grow(demo_with_two());
    ASSERT_EQ(grow.problem(), "");
    grow.run_to(kFirstSlot + minutes{1});
    ASSERT_TRUE(grow.truth().floats.pump_running);
    ASSERT_TRUE(grow.fault(weld, true));
    int floods = 0;
    for (; floods < 2 && !grow.latched(Latch::pump_welded); ++floods) {
      run_to_the_end_of_the_fill(grow);
      const double at_the_stop = grow.truth().ledger.pumped_kg;
      grow.run_for(minutes{20});
      EXPECT_LE(grow.truth().ledger.pumped_kg - at_the_stop, 4 * kPumpLitresPerS + 0.01);
    }
    EXPECT_TRUE(grow.latched(Latch::pump_welded));
    EXPECT_TRUE(grow.alarm_stands(Alarm::pump_welded));
    EXPECT_FALSE(grow.truth().floats.pump_running);
  }
}

TEST(PumpContact, WithASecondOneALeakStopsAWeldedPumpAtOnce) {
  Grow grow(demo_with_two());
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(kFirstSlot + minutes{1});
  ASSERT_TRUE(grow.fault("pump_contact_welded", true));
  ASSERT_TRUE(grow.fault("leak", true));
  ASSERT_TRUE(grow.run_until([&] { return grow.truth().floats.leak_floor; }, hours{1}));
  grow.run_for(seconds{1});
  EXPECT_FALSE(grow.truth().floats.pump_running);
  EXPECT_EQ(grow.level(Output::pump_series), kStopped);
}

TEST(PumpContact, WithASecondOneAHandInAFloodIsToldAndLatchesNothing) {
  Grow grow(demo_with_two());
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(kFirstSlot + minutes{1});
  ASSERT_TRUE(grow.fault("pump_welded", true));  // its current comes past both contacts
  run_to_the_end_of_the_fill(grow);
  EXPECT_TRUE(grow.run_until([&] { return grow.alarm_stands(Alarm::pump_in_hand); }, seconds{15}));
  ASSERT_TRUE(grow.fault("pump_welded", false));
  grow.run_for(hours{1});
  EXPECT_FALSE(grow.alarm_stands(Alarm::pump_in_hand));
  EXPECT_FALSE(grow.latched(Latch::pump_welded));
}

TEST(PumpContact, ADayOfFloodsThroughTwoAccusesNobody) {
  Grow grow(demo_with_two());
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(hours{24});
  EXPECT_EQ(grow.state().kept.kernel, KernelState{});
  EXPECT_EQ(grow.state().kept.alarms[static_cast<std::size_t>(Alarm::pump_in_hand)].raised_count,
            0u);
  EXPECT_GT(grow.truth().ledger.pump_s, 1200);
}

}  // namespace
}  // namespace neap::scenarios
