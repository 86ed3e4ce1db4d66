// Goal: no flood is lost in silence, and none comes twice: holds, restarts, reloads, clocks that
// jump, summer time, floods by hand. Method: the whole scan on the rig.
#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr std::int32_t kMorning = 5 * 3600 + 1800;  // half an hour before lights-on

std::vector<Because> skipped(const Rig& rig) {
  std::vector<Because> found;
  for (const Event& event : rig.events)
    if (event.kind == EventKind::slot_skipped) found.push_back(event.because);
  return found;
}

int standing(const Rig& rig, Priority above) {
  int n = 0;
  for (const AlarmInfo& row : kAlarms)
    n += row.priority > above && rig.alarm(row.alarm) != AlarmState::normal ? 1 : 0;
  return n;
}

// --- holds ------------------------------------------------------------------------------------

TEST(LostFloods, APumpHeldStoppedWithholdsTheSlotAloudAndEatsNone) {
  Rig rig{strawberry_plan(), kMorning};
  ASSERT_TRUE(rig.ask(hold(Output::pump, kStopped, hours{4})).accepted);
  rig.run(minutes{65});
  EXPECT_EQ(rig.alarm(Alarm::flood_withheld), AlarmState::unacknowledged);
  EXPECT_EQ(rig.state.withheld.reason, Reason::operator_hold);
  EXPECT_TRUE(rig.rows().empty());
  rig.ask({.kind = RequestKind::release, .output = Output::pump});
  rig.run(minutes{5});
  EXPECT_TRUE(rig.running(Output::pump)) << "the slot was not spent";
}

TEST(LostFloods, AHoldThatMayNotStartThePumpIsRefusedAndStartsNothingLater) {
  Rig rig{strawberry_plan(), 8 * 3600};
  rig.scan_now();
  rig.contact(Point::leak_floor, Contact::damp);
  const Event answer = rig.ask(hold(Output::pump, kRunning, minutes{20}));
  EXPECT_FALSE(answer.accepted);
  EXPECT_EQ(answer.because.reason, Reason::leak_damp);
  rig.contact(Point::leak_floor, Contact::clear);
  rig.run(minutes{2});
  EXPECT_FALSE(rig.running(Output::pump));
}

// --- restarts ---------------------------------------------------------------------------------

TEST(LostFloods, ADeadPumpIsRememberedOverARestart) {
  Rig rig{strawberry_plan(), kMorning};
  rig.pump_l_per_s = 0;
  ASSERT_TRUE(rig.run_until(
      [&] { return rig.alarm(Alarm::pump_no_effect) == AlarmState::unacknowledged; }, hours{4}));
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  rig.run(minutes{5});
  EXPECT_EQ(rig.alarm(Alarm::pump_no_effect), AlarmState::unacknowledged);
}

TEST(LostFloods, ARetryComesAfterARestartToo) {
  Rig rig{strawberry_plan(), kMorning};
  rig.pump_l_per_s = 0;
  ASSERT_TRUE(rig.run_until([&] { return rig.state.flood.retry_pending; }, hours{4}));
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  rig.pump_l_per_s = 0.2;
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, minutes{40}));
  EXPECT_EQ(rig.state.flood.row.origin, FloodOrigin::retry);
}

TEST(LostFloods, ACatchUpIsOwedAfterARestartToo) {
  Rig rig{strawberry_plan(), kMorning};
  rig.reservoir_l = 20;
  ASSERT_TRUE(rig.run_until([&] { return rig.count(EventKind::slot_skipped) == 1; }, hours{3}));
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  rig.reservoir_l = 70;
  rig.run(minutes{10});
  ASSERT_TRUE(rig.running(Output::pump));
  EXPECT_EQ(rig.state.flood.row.origin, FloodOrigin::catch_up);
}

// --- clocks -----------------------------------------------------------------------------------

// Slots at 06:30, 11:00, 15:30, 20:00.
TEST(LostFloods, AClockThatJumpsAheadByDaysAndComesBackWithholdsNothing) {
  for (const int days : {1, 2, 10, 59}) {
    Rig rig{strawberry_plan(), kMorning};
    rig.run(hours{3});
    ASSERT_EQ(rig.rows().size(), 1u);
    rig.wall_shift = hours{24 * days};
    rig.run(minutes{5});
    EXPECT_TRUE(skipped(rig).empty()) << days << " days: nobody missed them";
    rig.wall_shift = Millis{0};
    rig.run(hours{20});  // until 04:35
    EXPECT_EQ(rig.rows().size(), 4u) << days << " days";
    EXPECT_EQ(standing(rig, Priority::advisory), 0) << days << " days";
  }
}

// Found by the campaign: days pass while the clock is ahead, and it comes back by less than it
// went.
TEST(LostFloods, AClockThatWasAheadForHoursAndComesBackAcrossADayWithholdsNothing) {
  Rig rig{strawberry_plan(), kMorning};
  rig.run(hours{3});
  rig.wall_shift = hours{24 * 4 - 6};
  rig.run(hours{22});
  rig.wall_shift = Millis{0};
  const std::size_t before = rig.rows().size();
  rig.run(hours{24});
  EXPECT_GE(rig.rows().size(), before + 3);
}

// Found by the campaign: two steps ahead, and back by one of them first.
TEST(LostFloods, AClockThatKeepsItsWordForADayIsBelievedWhateverThePagesSay) {
  Rig rig{strawberry_plan(), kMorning};
  rig.run(hours{3});
  for (const int days : {3, 7, 4}) {
    rig.wall_shift = hours{24 * days};
    rig.run(hours{2});
  }
  rig.wall_shift = Millis{0};
  rig.run(hours{26});
  const std::size_t before = rig.rows().size();
  rig.run(hours{24});
  EXPECT_EQ(rig.rows().size(), before + 4);
}

TEST(LostFloods, ARestoredClockFarAheadGivesTheDayBackWhenItIsSetRight) {
  Rig rig{strawberry_plan(), kMorning};
  rig.run(hours{3});
  const Kept kept = rig.state.kept;
  rig.wall_shift = hours{24 * 20};
  rig.inputs.wall.quality = TimeQuality::restored;
  rig.boot(&kept);
  rig.run(minutes{5});
  rig.wall_shift = Millis{0};
  rig.inputs.wall.quality = TimeQuality::synced;
  rig.run(hours{20});
  EXPECT_EQ(rig.rows().size(), 5u) << "and one catch-up, for what looked like an outage";
}

TEST(LostFloods, AClockBehindItsOwnDaySaysSo) {
  Rig rig{strawberry_plan(), kMorning};
  rig.run(hours{8});
  rig.wall_shift = -hours{24};
  rig.run(minutes{5});
  EXPECT_EQ(rig.alarm(Alarm::time_unknown), AlarmState::unacknowledged);
}

TEST(LostFloods, ASlotInTheHourThatSummerTimeLeavesOutIsOnTime) {
  Plan plan = strawberry_plan();
  plan.programme.stages[0].floods.rule = SlotRule::at_times;
  plan.programme.stages[0].floods.times_s = {3600 + 50 * 60, 2 * 3600 + 1800};  // 01:50, 02:30
  plan.table.min_gap = minutes{5};
  plan.table.drain_limit = minutes{5};
  plan.programme.stages[0].floods.soak = minutes{1};
  plan.table.max_floods_per_hour = 4;
  Rig rig{plan, 3600};
  rig.air = [](Rig& r) {
    const bool summer = tick_ms(r.now) - 4'294'967'000 >= Millis{hours{1}}.count();
    r.inputs.wall.utc_offset_s = summer ? 3600 : 0;
  };
  rig.run(minutes{80});  // 03:20 by the new time
  EXPECT_TRUE(skipped(rig).empty());
  EXPECT_EQ(rig.rows().size() + (rig.state.flood.row_open ? 1 : 0), 2u);
  EXPECT_EQ(standing(rig, Priority::advisory), 0);
}

// --- by hand, reload, stage -------------------------------------------------------------------

TEST(LostFloods, AFloodByHandJustBeforeASlotServesIt) {
  Rig rig{strawberry_plan(), kMorning};
  rig.run(hours{5} + minutes{10});  // 10:40, the next slot at 11:00
  rig.ask({.kind = RequestKind::flood_start});
  rig.run(hours{4});
  ASSERT_EQ(skipped(rig).size(), 1u);
  EXPECT_EQ(skipped(rig)[0].reason, Reason::flood_just_before);
  EXPECT_EQ(rig.rows().size(), 2u) << "no catch-up of what was watered";
  EXPECT_EQ(standing(rig, Priority::advisory), 0);
}

TEST(LostFloods, AReloadWithOtherTimesFloodsTheOnesToCome) {
  Rig rig{strawberry_plan(), kMorning};
  rig.run(hours{7});  // 12:30: two floods are done
  ASSERT_EQ(rig.rows().size(), 2u);
  Plan after = rig.plan;
  after.programme.stages[0].floods.rule = SlotRule::at_times;
  after.programme.stages[0].floods.times_s = {14 * 3600, 17 * 3600};
  adopt_plan(rig.plan, after, rig.state, rig.now);
  rig.plan = after;
  rig.run(hours{8});
  EXPECT_EQ(rig.rows().size(), 4u) << "number 1 and 2 of the new times were not done yet";
}

TEST(LostFloods, AStageEnteredInTheSecondOfAStartDoesNotFloodTwice) {
  Plan plan = strawberry_plan();
  plan.programme.stages[1] = plan.programme.stages[0];
  plan.programme.stages[1].name = "flowering";
  plan.programme.stages[1].floods.count = 7;  // 06:30 is one of its slots too
  plan.table.min_gap = minutes{5};
  plan.table.drain_limit = minutes{5};
  plan.programme.stages[0].floods.soak = minutes{1};
  Rig rig{plan, kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{2}));
  rig.ask({.kind = RequestKind::enter_stage, .number = 1});
  rig.run(minutes{60});
  EXPECT_EQ(rig.rows().size(), 1u);
  EXPECT_TRUE(skipped(rig).empty());
}

TEST(LostFloods, AStageWithAnotherHourOfLightFloodsOnItsFirstDay) {
  Plan plan = strawberry_plan();
  plan.programme.stages[1] = plan.programme.stages[0];
  plan.programme.stages[1].name = "flowering";
  plan.programme.stages[1].lights_on_s = 18 * 3600;
  Rig rig{plan, kMorning};
  rig.run(hours{7});  // 12:30: two floods are done, the light of the new stage is yesterday's
  rig.ask({.kind = RequestKind::enter_stage, .number = 1});
  rig.run(hours{7});  // 19:30: its first slot was at 18:30
  EXPECT_EQ(rig.rows().size(), 3u);
}

// --- floats and levels that lie ---------------------------------------------------------------

TEST(LostFloods, ASplashOnTheFloatEndsNoFill) {
  Rig rig{strawberry_plan(), kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{2}));
  rig.run(seconds{20});
  rig.contact(Point::tray_full, Contact::set);
  rig.contact(Point::tray_full, Contact::clear);
  rig.run(seconds{20});
  EXPECT_TRUE(rig.running(Output::pump));
  EXPECT_EQ(rig.state.flood.phase, FloodPhase::fill);
}

TEST(LostFloods, AFloatThatHangsEarlyStopsThePumpAndIsNotBelieved) {
  Rig rig{strawberry_plan(), kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{2}));
  rig.run(seconds{20});
  rig.contact(Point::tray_full, Contact::set);
  rig.run(seconds{10});
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_EQ(rig.state.flood.row.outcome, FloodOutcome::fill_failed);
  EXPECT_EQ(rig.state.kept.flood_learnt.fills, 0);
  rig.run(seconds{20});
  EXPECT_EQ(rig.alarm(Alarm::float_fault), AlarmState::unacknowledged);
  EXPECT_EQ(rig.alarm(Alarm::flood_missed), AlarmState::unacknowledged);
}

TEST(LostFloods, WaterThatLeavesTheReservoirWhileThePumpStandsLatches) {
  Rig rig{strawberry_plan(), 8 * 3600};
  rig.run(minutes{2});
  rig.air = [](Rig& r) { r.reservoir_l -= 0.02; };  // a siphon of 72 L/h
  rig.run(minutes{2});
  EXPECT_TRUE(rig.latched(Latch::lost_water));
  EXPECT_EQ(rig.state.kept.alarms[static_cast<std::size_t>(Alarm::lost_water)].because.reason,
            Reason::reservoir_falls);
}

TEST(LostFloods, WaterTakenOutUnderServiceAndEvaporationLatchNothing) {
  Rig rig{strawberry_plan(), 8 * 3600};
  rig.run(minutes{2});
  rig.ask({.kind = RequestKind::service_begin, .duration = minutes{30}});
  rig.reservoir_l = 40;
  rig.run(minutes{5});
  rig.ask({.kind = RequestKind::service_end});
  rig.air = [](Rig& r) { r.reservoir_l -= 1.0 / 3600; };
  rig.run(hours{2});
  EXPECT_FALSE(rig.latched(Latch::lost_water));
}

// --- the owner's policy where a sensor is blind (W18) -----------------------------------------

Plan timed_plan() {
  Plan plan = strawberry_plan();
  plan.table.blind = BlindPolicy::timed;
  return plan;
}

// Four floods learnt, then the tray's float goes silent for a day and a half.
Rig blind(Plan plan, Point point) {
  Rig rig{std::move(plan), kMorning};
  rig.run(hours{16});
  EXPECT_EQ(rig.state.kept.flood_learnt.fills, 4);
  rig.silence(point);
  return rig;
}

TEST(BlindPolicy, TimedFloodsShortOnceTheRootsTimeIsOver) {
  Plan plan = timed_plan();
  plan.programme.catch_up_within_s = 0;
  Rig rig = blind(plan, Point::tray_full);
  const std::size_t before = rig.rows().size();
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{20}));
  EXPECT_EQ(rig.alarm(Alarm::roots_dry), AlarmState::unacknowledged);
  rig.run(hours{1});
  ASSERT_EQ(rig.rows().size(), before + 1);
  const CycleRow row = rig.rows().back();
  EXPECT_EQ(row.outcome, FloodOutcome::complete);
  EXPECT_EQ(row.origin, FloodOrigin::by_time);
  const auto usual = static_cast<double>(rig.state.kept.flood_learnt.fill.count());
  EXPECT_NEAR(static_cast<double>(row.fill.count()), 0.8 * usual, 1000);
  EXPECT_EQ(rig.alarm(Alarm::roots_dry), AlarmState::returned);
  rig.run(hours{20});
  EXPECT_GE(rig.rows().size(), before + 3);
  for (std::size_t i = before; i < rig.rows().size(); ++i)
    EXPECT_EQ(rig.rows()[i].outcome, FloodOutcome::complete);
  EXPECT_FALSE(rig.latched(Latch::slow_drain));
}

TEST(BlindPolicy, TimedGoesPastABlindReservoirWhileTheTraysFloatSpeaks) {
  Plan plan = timed_plan();
  Rig rig = blind(plan, Point::reservoir_low);
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{20}));
}

TEST(BlindPolicy, WithholdIsTheDefaultAndMeansIt) {
  Rig rig = blind(strawberry_plan(), Point::tray_full);
  const std::size_t before = rig.rows().size();
  rig.run(hours{40});
  EXPECT_EQ(rig.rows().size(), before);
  EXPECT_EQ(rig.alarm(Alarm::roots_dry), AlarmState::unacknowledged);
}

TEST(BlindPolicy, TimedNeverPassesAWetOrSilentProbeNorTwoBlindSensors) {
  for (const Point also : {Point::leak_floor, Point::reservoir_low, Point::tray_high}) {
    Rig rig = blind(timed_plan(), Point::tray_full);
    const std::size_t before = rig.rows().size();
    rig.silence(also);
    rig.run(hours{30});
    EXPECT_EQ(rig.rows().size(), before) << info(also).name;
  }
  Rig wet = blind(timed_plan(), Point::tray_full);
  const std::size_t before = wet.rows().size();
  wet.contact(Point::leak_floor, Contact::set);
  wet.run(hours{30});
  EXPECT_EQ(wet.rows().size(), before);
}

TEST(BlindPolicy, TimedKnowsNothingBeforeItHasLearnt) {
  Rig rig{timed_plan(), kMorning};
  rig.run(hours{4});
  rig.silence(Point::tray_full);
  const std::size_t before = rig.rows().size();
  rig.run(hours{30});
  EXPECT_EQ(rig.rows().size(), before);
}

}  // namespace
}  // namespace neap::test
