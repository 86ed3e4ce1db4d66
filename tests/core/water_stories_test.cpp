// What a person is told of a flood that failed: the likely cause, and when the alarm ends.
#include <gtest/gtest.h>

#include "tests/core/flood_bench.h"
#include "tests/core/rig.h"

namespace neap {
namespace {

using test::FloodBench;
using test::Rig;
using test::strawberry_plan;

Request operators(RequestKind kind) {
  Request request;
  request.kind = kind;
  return request;
}

Request hold_pump(Millis span) {
  Request request = operators(RequestKind::hold);
  request.output = Output::pump;
  request.level = kRunning;
  request.duration = span;
  return request;
}

// --- where the water went -----------------------------------------------------------------------

TEST(FloodWhereabouts, ALevelThatStandsStillUnderARunningPumpNamesTheFloat) {
  FloodBench bench;
  bench.full_sticks = true;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_EQ(bench.rows.at(0).outcome, FloodOutcome::lost_water);
  EXPECT_EQ(bench.state.lost_because.reason, Reason::flood_float_silent);
  EXPECT_NEAR(bench.state.lost_because.args[0], 24, 0.3) << "litres to the standpipe's rim";
}

TEST(FloodWhereabouts, ALevelThatFellSlowlyAllTheTimeNamesThePump) {
  FloodBench bench;
  bench.tub.pump_part = 0.3;
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  EXPECT_EQ(bench.rows.at(0).outcome, FloodOutcome::lost_water);
  EXPECT_EQ(bench.state.lost_because.reason, Reason::flood_pump_weak);
  EXPECT_NEAR(bench.state.lost_because.args[0], 30, 1);
}

TEST(FloodWhereabouts, WaterOnTheFloorBlamesNeitherFloatNorPump) {
  FloodBench burst;
  burst.tub.spilt_part = 1;
  burst.start();
  ASSERT_TRUE(burst.run_to(FloodPhase::drain));
  EXPECT_EQ(burst.state.lost_because, because(Reason::flood_lost_water));

  FloodBench dry_tray;  // slow, but the tray's own floor says that nothing arrived
  dry_tray.wet_fitted = true;
  dry_tray.tub.spilt_part = 1;
  dry_tray.tub.pump_part = 0.3;
  dry_tray.start();
  ASSERT_TRUE(dry_tray.run_to(FloodPhase::rest));
  EXPECT_EQ(dry_tray.state.lost_because, because(Reason::flood_lost_water));
}

TEST(WaterStories, TheAlarmOfLostWaterKeepsItsLikelyCauseOverARestart) {
  Rig rig(strawberry_plan(), 7 * 3600);
  rig.contact(Point::tray_full, Contact::clear);  // stuck
  ASSERT_TRUE(rig.ask(operators(RequestKind::flood_start)).accepted);
  rig.run(minutes{10});
  ASSERT_TRUE(rig.latched(Latch::lost_water));
  const auto told = [&rig] {
    return rig.state.kept.alarms[static_cast<std::size_t>(Alarm::lost_water)].because;
  };
  EXPECT_EQ(told().reason, Reason::flood_float_silent);
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  rig.run(seconds{30});
  EXPECT_EQ(told().reason, Reason::flood_float_silent);
}

// --- a pump that moves nothing -------------------------------------------------------------------

struct DeadPump {
  Rig rig{strawberry_plan(), 7 * 3600};
  DeadPump() {
    rig.pump_l_per_s = 0;
    rig.ask(operators(RequestKind::flood_start));
    rig.run(minutes{13});
  }
  bool stands() const { return rig.alarm(Alarm::pump_no_effect) == AlarmState::unacknowledged; }
};

TEST(WaterStories, AHoldOfThePumpThatMovesWaterEndsTheAlarmOfADeadPump) {
  DeadPump dead;
  Rig& rig = dead.rig;
  ASSERT_TRUE(dead.stands());
  rig.pump_l_per_s = 0.2;
  ASSERT_TRUE(rig.ask(hold_pump(minutes{1})).accepted);
  rig.run(seconds{19});
  EXPECT_TRUE(dead.stands()) << "nothing is proven yet";
  rig.run(seconds{12});
  EXPECT_EQ(rig.alarm(Alarm::pump_no_effect), AlarmState::returned);
}

TEST(WaterStories, AHoldOfThePumpThatMovesNothingLeavesTheAlarm) {
  DeadPump dead;
  ASSERT_TRUE(dead.rig.ask(hold_pump(minutes{2})).accepted);
  dead.rig.run(minutes{3});
  EXPECT_TRUE(dead.stands());
}

TEST(WaterStories, AckAndTimeDoNotEndTheAlarmOfADeadPump) {
  DeadPump dead;
  Request all = operators(RequestKind::acknowledge);
  all.all = true;
  dead.rig.ask(all);
  dead.rig.run(hours{1});
  EXPECT_EQ(dead.rig.alarm(Alarm::pump_no_effect), AlarmState::acknowledged);
}

TEST(WaterStories, APumpThatTurnsDeafInAFloodIsStoppedAndTheRowSaysWhy) {
  Rig rig(strawberry_plan(), 9 * 3600);
  ASSERT_TRUE(rig.ask(operators(RequestKind::flood_start)).accepted);
  rig.run(seconds{20});
  ASSERT_TRUE(rig.running(Output::pump));
  rig.inputs.output_trouble = true;
  rig.inputs.troubled_output = Output::pump;
  rig.run(seconds{2});
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_EQ(rig.state.flood.row.outcome, FloodOutcome::tripped);
  EXPECT_EQ(rig.state.flood.last_end.reason, Reason::output_trouble);
  EXPECT_EQ(rig.alarm(Alarm::output_fault), AlarmState::unacknowledged);
}

// --- a level that is lost while the tray drains --------------------------------------------------

// The level dies `after` the drain began.
FloodBench with_a_level_that_dies(Millis after, double drain_l_per_s) {
  FloodBench bench;
  bench.tub.drain_l_per_s = drain_l_per_s;
  bench.tub.standpipe_l = 23;  // so that the full float clears although nothing drains
  bench.start();
  EXPECT_TRUE(bench.run_to(FloodPhase::drain));
  bench.full_fitted = false;
  bench.run(after);
  bench.level_fitted = false;
  return bench;
}

TEST(FloodLevelLost, ADrainWhoseLevelIsLostIsTimedByTheWholeLimit) {
  FloodBench bench = with_a_level_that_dies(seconds{20}, 0.05);
  bench.run(bench.table.drain_limit - seconds{21});
  EXPECT_EQ(bench.state.phase, FloodPhase::drain);
  bench.run(seconds{1});
  EXPECT_EQ(bench.state.phase, FloodPhase::rest);
  EXPECT_EQ(bench.outcomes(), std::vector<FloodOutcome>{FloodOutcome::complete});
  EXPECT_FALSE(bench.raised_drain_expired);
  EXPECT_EQ(bench.learnt.drains, 0);
}

TEST(FloodLevelLost, ALevelThatSawTheTrayStayFullBeforeItWasLostIsEvidence) {
  FloodBench bench = with_a_level_that_dies(minutes{20}, 0);
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_TRUE(bench.raised_drain_expired);
  EXPECT_EQ(bench.outcomes(), std::vector<FloodOutcome>{FloodOutcome::slow_drain});
}

TEST(FloodLevelLost, ALevelThatSaysToTheEndThatNothingCameBackStillLatches) {
  FloodBench bench = with_a_level_that_dies(seconds{20}, 0);
  bench.level_fitted = true;
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_TRUE(bench.raised_drain_expired);
}

TEST(FloodLevelLost, ASlowLevelThatIsStillHeldIsNotLostAndLatchesAShortDrain) {
  FloodBench bench;
  bench.tub.drain_l_per_s = 0;
  bench.tub.standpipe_l = 23;
  bench.table.drain_limit = minutes{1};
  bench.level_every = seconds{200};  // once in this drain, too early to be evidence by itself
  bench.start();
  ASSERT_TRUE(bench.run_to(FloodPhase::drain));
  bench.full_fitted = false;
  ASSERT_TRUE(bench.run_to(FloodPhase::rest));
  EXPECT_TRUE(bench.raised_drain_expired);
}

TEST(WaterStories, ALevelSensorThatDiesInTheDrainLatchesNothing) {
  Rig rig(strawberry_plan(), 7 * 3600);
  ASSERT_TRUE(rig.ask(operators(RequestKind::flood_start)).accepted);
  ASSERT_TRUE(rig.run_until([&] { return rig.state.flood.phase == FloodPhase::drain; }, hours{1}));
  rig.silence(Point::reservoir_level);
  rig.run(hours{1});
  EXPECT_FALSE(rig.latched(Latch::slow_drain));
  EXPECT_EQ(rig.rows().at(0).outcome, FloodOutcome::complete);
  EXPECT_EQ(rig.alarm(Alarm::sensor_lost), AlarmState::unacknowledged);
}

}  // namespace
}  // namespace neap
