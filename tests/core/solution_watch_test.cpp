// Goal: the solution is held against the stage's bands by probe or by hand, one alarm for a while
// out and another for far out, and what falls due is told.
#include "daemon/core/solution_watch.h"

#include <gtest/gtest.h>

#include "daemon/core/schedule.h"
#include "tests/core/rig.h"

namespace neap {
namespace {

using test::Rig;
using test::strawberry_plan;

constexpr auto kPh = static_cast<std::size_t>(Hand::ph);

Plan with_bands() {
  Plan plan = strawberry_plan();
  for (StagePlan& stage : plan.programme.stages) {
    stage.solution[kPh] = Range{5.5, 6.2};
    stage.solution[static_cast<std::size_t>(Hand::ec)] = Range{1.2, 1.8};
  }
  return plan;
}

struct Solution : ::testing::Test {
  Rig rig{with_bands()};
  void tell(Hand hand, double value, Millis ago = Millis{0}) {
    const std::int64_t taken = rig.state.last_wall.unix_ms - ago.count();
    Events events;
    take_hand_note(rig.state, {hand, value, false, taken, ++id}, events);
  }
  AlarmState alarm(Alarm which) const {
    return rig.state.kept.alarms[static_cast<std::size_t>(which)].state;
  }
  Because cause(Alarm which) const {
    return rig.state.kept.alarms[static_cast<std::size_t>(which)].because;
  }
  std::uint64_t id = 100;
};

TEST_F(Solution, AHandMeasurementOutOfItsBandIsTold) {
  rig.run(seconds{12});
  tell(Hand::ph, 6.5);
  rig.run(minutes{19});
  EXPECT_EQ(alarm(Alarm::ph_off_band), AlarmState::normal) << "not yet for long";
  rig.run(minutes{2});
  EXPECT_EQ(alarm(Alarm::ph_off_band), AlarmState::unacknowledged);
  EXPECT_EQ(alarm(Alarm::ph_far_off), AlarmState::normal);
  EXPECT_EQ(cause(Alarm::ph_off_band), because(Reason::ph_off, 6.5, 5.5, 6.2));
}

TEST_F(Solution, FarOutOfItsBandIsAWorseAlarm) {
  rig.run(seconds{12});
  tell(Hand::ph, 4.9);
  rig.run(minutes{21});
  EXPECT_EQ(alarm(Alarm::ph_far_off), AlarmState::unacknowledged);
  EXPECT_GT(info(Alarm::ph_far_off).priority, info(Alarm::ph_off_band).priority);
}

TEST_F(Solution, AProbeThatSpeaksCountsBeforeTheHand) {
  PointPlan slow;
  slow.uncertain_after = hours{1};
  slow.bad_after = hours{2};
  rig.plan.points[Point::solution_ph] = slow;
  rig.values[Point::solution_ph] = 5.9;
  rig.run(minutes{1});
  tell(Hand::ph, 4.9);
  const auto seen = solution_seen(rig.plan, rig.state, Hand::ph);
  ASSERT_TRUE(seen);
  EXPECT_FALSE(seen->by_hand);
  EXPECT_EQ(seen->value, 5.9);
}

TEST_F(Solution, AHandMeasurementOfLastWeekSaysNothingOfToday) {
  rig.run(seconds{12});
  tell(Hand::ph, 6.5, kHandLasts + minutes{1});
  EXPECT_FALSE(solution_seen(rig.plan, rig.state, Hand::ph));
}

TEST_F(Solution, AFaultTheHandFoundStandsUntilTheHandFindsItGone) {
  rig.run(seconds{12});
  tell(Hand::ph, 6.9, kHandLasts - hours{1});
  rig.run(minutes{30});
  ASSERT_EQ(alarm(Alarm::ph_far_off), AlarmState::unacknowledged);
  rig.run(hours{2});
  EXPECT_FALSE(solution_seen(rig.plan, rig.state, Hand::ph));
  EXPECT_EQ(alarm(Alarm::ph_far_off), AlarmState::unacknowledged);
  EXPECT_EQ(alarm(Alarm::ph_off_band), AlarmState::unacknowledged);
  tell(Hand::ph, 5.9);
  rig.run(minutes{10});
  EXPECT_EQ(alarm(Alarm::ph_far_off), AlarmState::returned);
}

TEST_F(Solution, WhatWasWithdrawnStandsNoLonger) {
  rig.run(seconds{12});
  tell(Hand::ph, 6.9);
  rig.run(minutes{30});
  ASSERT_EQ(alarm(Alarm::ph_far_off), AlarmState::unacknowledged);
  Events events;
  take_hand_note(rig.state, {Hand::ph, std::nullopt, true, 0, id}, events);
  rig.run(minutes{10});
  EXPECT_EQ(alarm(Alarm::ph_far_off), AlarmState::returned);
}

TEST_F(Solution, WhatIsDatedAheadIsNotInForceAndItsCheckIsDue) {
  rig.plan.programme.check_every = hours{26};
  rig.run(seconds{12});
  tell(Hand::ph, 6.9, -hours{24 * 365});
  EXPECT_FALSE(solution_seen(rig.plan, rig.state, Hand::ph));
  rig.run(minutes{31});
  EXPECT_EQ(alarm(Alarm::ph_far_off), AlarmState::normal);
  EXPECT_EQ(alarm(Alarm::hand_check_due), AlarmState::unacknowledged);
}

TEST_F(Solution, AStageWithoutTargetsIsNotWatched) {
  for (StagePlan& stage : rig.plan.programme.stages) stage.solution = {};
  rig.plan.programme.check_every = hours{26};
  rig.run(seconds{12});
  tell(Hand::ph, 9);
  rig.run(minutes{25});
  EXPECT_EQ(alarm(Alarm::ph_far_off), AlarmState::normal);
  EXPECT_EQ(alarm(Alarm::hand_check_due), AlarmState::normal);
}

TEST(Bands, AreEnteredAgainByAMarginAlone) {
  const Range band{5.5, 6.2};
  EXPECT_EQ(judge_band(Hand::ph, band, 6.2, Off::inside), Off::inside);
  EXPECT_EQ(judge_band(Hand::ph, band, 6.21, Off::inside), Off::outside);
  EXPECT_EQ(judge_band(Hand::ph, band, 6.15, Off::outside), Off::outside);
  EXPECT_EQ(judge_band(Hand::ph, band, 6.05, Off::outside), Off::inside);
  EXPECT_EQ(judge_band(Hand::ph, band, 6.75, Off::outside), Off::far);
  EXPECT_EQ(judge_band(Hand::ph, band, 6.65, Off::far), Off::far);
  EXPECT_EQ(judge_band(Hand::ph, band, 6.55, Off::far), Off::outside);
  EXPECT_EQ(judge_band(Hand::ph, band, 4.9, Off::inside), Off::far);
}

TEST_F(Solution, ACheckFallsDueAfterItsTimeAndIsOverWithTheNext) {
  rig.run(seconds{12});
  tell(Hand::ph, 5.9, hours{25});
  tell(Hand::ec, 1.5, hours{25});
  rig.plan.programme.check_every = hours{26};
  rig.run(seconds{12});
  EXPECT_EQ(alarm(Alarm::hand_check_due), AlarmState::normal);
  tell(Hand::ph, 5.9);
  rig.state.kept.hands[1].taken_unix_ms -= Millis{hours{2}}.count();
  rig.run(minutes{31});
  EXPECT_EQ(alarm(Alarm::hand_check_due), AlarmState::unacknowledged);
  EXPECT_EQ(cause(Alarm::hand_check_due),
            because(Reason::hand_check_due, static_cast<double>(slot(Point::solution_ec)), 27));
  tell(Hand::ec, 1.5);
  rig.run(seconds{12});
  EXPECT_EQ(alarm(Alarm::hand_check_due), AlarmState::returned);
}

TEST_F(Solution, AProbeThatHasNotSpokenSinceTheStartIsNoMissedCheck) {
  PointPlan slow;
  slow.uncertain_after = hours{1};
  slow.bad_after = hours{2};
  rig.plan.points[Point::solution_ph] = slow;
  rig.plan.points[Point::solution_ec] = slow;
  rig.plan.programme.check_every = hours{26};
  rig.run(minutes{5});
  EXPECT_EQ(alarm(Alarm::hand_check_due), AlarmState::normal);
  rig.values[Point::solution_ph] = 5.9;
  rig.values[Point::solution_ec] = 1.5;
  rig.run(minutes{40});
  EXPECT_EQ(alarm(Alarm::hand_check_due), AlarmState::normal);
}

TEST_F(Solution, ALevelIsNotJudgedWhileWaterStandsInTheTray) {
  for (StagePlan& stage : rig.plan.programme.stages)
    stage.solution[static_cast<std::size_t>(Hand::level)] = Range{40, 60};
  rig.run(seconds{12});
  const auto judged = [&](FloodPhase phase, double litres) {
    tell(Hand::level, litres);
    rig.state.flood.phase = phase;
    Conditions out{};
    solution_conditions(rig.plan, rig.state, out);
    return out[static_cast<std::size_t>(Alarm::level_off_band)].active;
  };
  bool& stands = rig.state.kept.alarms[static_cast<std::size_t>(Alarm::level_off_band)].condition;
  stands = false;
  EXPECT_TRUE(judged(FloodPhase::idle, 25));
  EXPECT_TRUE(judged(FloodPhase::rest, 25));
  for (const FloodPhase phase : {FloodPhase::fill, FloodPhase::soak, FloodPhase::drain})
    EXPECT_FALSE(judged(phase, 25));
  stands = true;
  EXPECT_TRUE(judged(FloodPhase::soak, 50)) << "what stood before the flood is not over by it";
}

TEST_F(Solution, AChangeFallsDueByDaysOrByLitres) {
  rig.plan.programme.change_every = hours{24 * 14};
  rig.plan.programme.change_after = Litres{60};
  rig.run(seconds{12});
  tell(Hand::topup, 80);
  rig.run(seconds{12});
  EXPECT_EQ(alarm(Alarm::change_due), AlarmState::unacknowledged);
  EXPECT_EQ(cause(Alarm::change_due).args[1], 80) << "though nobody told of a change yet";
  tell(Hand::change, 60, hours{24 * 3});
  rig.run(seconds{12});
  EXPECT_EQ(alarm(Alarm::change_due), AlarmState::returned) << "the change began a new count";
  tell(Hand::topup, 35);
  tell(Hand::topup, 26);
  rig.run(seconds{12});
  EXPECT_EQ(alarm(Alarm::change_due), AlarmState::unacknowledged);
  EXPECT_EQ(cause(Alarm::change_due), because(Reason::change_due, 3, 61));
  tell(Hand::change, 60);
  rig.run(seconds{12});
  EXPECT_EQ(alarm(Alarm::change_due), AlarmState::returned);
  rig.state.kept.solution_age.changed_unix_ms -= Millis{hours{24 * 14}}.count();
  rig.run(seconds{12});
  EXPECT_EQ(cause(Alarm::change_due), because(Reason::change_due, 14, 0));
}

TEST_F(Solution, WhereNoChangeWasToldTheDaysWithTargetsCount) {
  rig.plan.programme.change_every = hours{24 * 14};
  rig.run(seconds{12});
  EXPECT_EQ(rig.state.kept.solution_age.watched_from, rig.state.kept.stage_entered_date);
  rig.state.kept.solution_age.watched_from = rig.state.civil.date - 13;
  rig.run(seconds{12});
  EXPECT_EQ(alarm(Alarm::change_due), AlarmState::normal);
  rig.state.kept.solution_age.watched_from = rig.state.civil.date - 14;
  rig.run(seconds{12});
  EXPECT_EQ(alarm(Alarm::change_due), AlarmState::unacknowledged);
  EXPECT_EQ(cause(Alarm::change_due), because(Reason::change_due, 14, 0));
}

// State of a version that kept no such day.
TEST_F(Solution, WhereThatDayIsNotKnownTheStagesDaysCount) {
  rig.plan.programme.change_every = hours{24 * 14};
  rig.run(seconds{12});
  rig.state.kept.solution_age.watched_from = 0;
  rig.state.kept.stage_entered_date = rig.state.civil.date - 14;
  rig.run(seconds{12});
  EXPECT_EQ(alarm(Alarm::change_due), AlarmState::unacknowledged);
  EXPECT_EQ(cause(Alarm::change_due), because(Reason::change_due, 14, 0));
}

TEST_F(Solution, ANewStageIsNoChangeOfTheSolutionAndAStageWithoutTargetsEndsTheCount) {
  rig.run(seconds{12});
  StagePlan bare = rig.plan.programme.stages[0];
  bare.solution = {};
  const std::int32_t today = rig.state.civil.date;
  SolutionAge& age = rig.state.kept.solution_age;
  Events events;
  age.watched_from = today - 9;
  enter_stage(rig.plan, rig.state, 1, today, events);
  EXPECT_EQ(age.watched_from, today - 9);
  tell(Hand::change, 60);
  Events taken_back;
  take_hand_note(rig.state, {Hand::change, std::nullopt, true, 0, id}, taken_back);
  EXPECT_FALSE(age.known);
  EXPECT_EQ(age.watched_from, today - 9) << "the change was none";
  follow_solution_stage(age, bare, today);
  EXPECT_EQ(age.watched_from, 0);
  follow_solution_stage(age, rig.plan.programme.stages[0], today);
  EXPECT_EQ(age.watched_from, today);
}

TEST(SolutionAges, ATopUpToldTwiceCountsOnceAndAWithdrawnChangeIsNone) {
  SolutionAge age;
  follow_solution_age(age, {Hand::change, 60, false, 1000, 1});
  follow_solution_age(age, {Hand::topup, 5, false, 2000, 2});
  follow_solution_age(age, {Hand::topup, 5, false, 2000, 2});
  follow_solution_age(age, {Hand::topup, 7, false, 500, 3});  // from before the change
  EXPECT_EQ(age.replaced_l, 5);
  follow_solution_age(age, {Hand::change, std::nullopt, true, 0, 1});
  EXPECT_FALSE(age.known);
}

TEST_F(Solution, AStagesEndIsToldBeforeItComes) {
  rig.plan.programme.stage_notice_days = 2;
  rig.run(seconds{12});
  const int days = rig.plan.programme.stages[0].days;
  ASSERT_GT(days, 3);
  EXPECT_EQ(alarm(Alarm::stage_coming), AlarmState::normal);
  rig.state.kept.stage_entered_date -= days - 2;
  rig.run(seconds{12});
  EXPECT_EQ(alarm(Alarm::stage_coming), AlarmState::unacknowledged);
  EXPECT_EQ(cause(Alarm::stage_coming), because(Reason::stage_coming, 2));
}

}  // namespace
}  // namespace neap
