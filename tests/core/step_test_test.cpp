// Goal: the guarded step test runs as planned, is refused or cut short by whatever speaks against
// it, and leaves everything else in force. Method: the real scan over tests/core/rig.h.
#include "daemon/core/step_test.h"

#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

// Lights 06:00 to 22:00; floods 06:30, 11:00, 15:30, 20:00, each over in a quarter of an hour.
constexpr std::int32_t kNoon = 12 * 3600;
constexpr std::int32_t kNight = 23 * 3600;

Request test_of(Output output) { return {.kind = RequestKind::step_test_start, .output = output}; }
Request stop_test() { return {.kind = RequestKind::step_test_stop}; }
Rig rig_at(std::int32_t second_of_day, Plan plan = strawberry_plan()) {
  Rig rig{std::move(plan), second_of_day};
  rig.run(minutes{1});
  return rig;
}

// The answer's reason; Reason::request_accepted when the test has begun.
Reason begin(Rig& rig, Output output) { return rig.ask(test_of(output)).because.reason; }

std::vector<Event> told(const Rig& rig) {
  std::vector<Event> found;
  for (const Event& event : rig.events)
    if (event.kind == EventKind::step_test) found.push_back(event);
  return found;
}

TEST(StepTestStories, TheFansTestStepsDownUpAndDownAndSaysWhenItBeganAndEnded) {
  Rig rig = rig_at(kNoon);
  ASSERT_EQ(begin(rig, Output::exhaust_fan), Reason::request_accepted);
  for (const int level : {300, 800, 300}) {
    rig.run(seconds{1});
    EXPECT_EQ(rig.level(Output::exhaust_fan), Permille{level});
    EXPECT_EQ(rig.reason(Output::exhaust_fan), Reason::step_test_step);
    EXPECT_EQ(rig.state.last.commands[Output::exhaust_fan].precedence, Precedence::sequence);
    EXPECT_FALSE(rig.running(Output::dehumidifier));
    rig.run(minutes{10} - seconds{2});
    EXPECT_EQ(rig.level(Output::exhaust_fan), Permille{level});
    rig.run(seconds{1});
  }
  EXPECT_FALSE(rig.state.step_test.running);
  EXPECT_EQ(rig.state.last.commands[Output::exhaust_fan].precedence, Precedence::loop);
  const auto events = told(rig);
  ASSERT_EQ(events.size(), 2u);
  EXPECT_EQ(events[0].number, 1);
  EXPECT_EQ(events[0].output, Output::exhaust_fan);
  EXPECT_EQ(events[1].number, 0);
  EXPECT_EQ(events[1].because.reason, Reason::step_test_done);
}

TEST(StepTestStories, TheDehumidifiersTestRunsItTwiceForAQuarterOfAnHourUnderASteadyFan) {
  Rig rig = rig_at(kNight);
  ASSERT_EQ(begin(rig, Output::dehumidifier), Reason::request_accepted);
  for (const bool runs : {false, true, false, true}) {
    rig.run(seconds{1});
    EXPECT_EQ(rig.running(Output::dehumidifier), runs);
    EXPECT_EQ(rig.level(Output::exhaust_fan), Permille{400});
    rig.run(minutes{15} - seconds{1});
  }
  EXPECT_FALSE(rig.state.step_test.running);
  EXPECT_EQ(told(rig).back().because.reason, Reason::step_test_done);
}

TEST(StepTestStories, NothingMoistensOrDriesTheAirBesidesWhatIsTested) {
  Plan plan = strawberry_plan();
  plan.outputs[Output::humidifier] = two_position(kStopped);
  Rig rig = rig_at(kNoon, plan);
  rig.values[Point::canopy_humidity] = 45;
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::humidifier); }, minutes{30}));
  ASSERT_EQ(begin(rig, Output::exhaust_fan), Reason::request_accepted);
  rig.run(minutes{29});
  EXPECT_FALSE(rig.running(Output::humidifier));
  EXPECT_EQ(rig.reason(Output::humidifier), Reason::step_test_step);
}

TEST(StepTestStories, TheStepsOfAGentleCompressorAreAsLongAsItsDwells) {
  Plan plan = strawberry_plan();
  plan.outputs[Output::dehumidifier]->min_on = minutes{20};
  Rig rig = rig_at(kNight, plan);
  ASSERT_EQ(begin(rig, Output::dehumidifier), Reason::request_accepted);
  const StepTestView view = view_step_test(rig.state.step_test, rig.now);
  EXPECT_EQ(view.ends - rig.now, minutes{80});
}

TEST(StepTestStories, TheFansLevelsStayWithinItsSettings) {
  Plan plan = strawberry_plan();
  plan.outputs[Output::exhaust_fan]->floor = Permille{350};
  plan.outputs[Output::exhaust_fan]->ceiling = Permille{700};
  Rig rig = rig_at(kNoon, plan);
  ASSERT_EQ(begin(rig, Output::exhaust_fan), Reason::request_accepted);
  rig.run(minutes{1});
  EXPECT_EQ(rig.level(Output::exhaust_fan), Permille{350});
  rig.run(minutes{10});
  EXPECT_EQ(rig.level(Output::exhaust_fan), Permille{700});
}

TEST(StepTestStories, QuietHoursThatBeginInMidTestBindTheFanFromItsStart) {
  Plan plan = strawberry_plan();
  plan.outputs[Output::exhaust_fan]->quiet_ceiling = Permille{600};
  plan.programme.quiet = {true, kNoon + 1200, kNoon + 7200};
  Rig rig = rig_at(kNoon, plan);
  ASSERT_EQ(begin(rig, Output::exhaust_fan), Reason::request_accepted);
  rig.run(minutes{11});
  EXPECT_EQ(rig.level(Output::exhaust_fan), Permille{600});
  rig.run(minutes{4});
  EXPECT_EQ(rig.level(Output::exhaust_fan), Permille{600});
}

TEST(StepTestStories, FanLimitsThatLeaveNoStepToSeeRefuseTheTest) {
  Plan plan = strawberry_plan();
  plan.outputs[Output::exhaust_fan]->ceiling = Permille{450};
  Rig rig = rig_at(kNoon, plan);
  EXPECT_EQ(begin(rig, Output::exhaust_fan), Reason::step_test_narrow);
}

TEST(StepTestStories, WhatIsNotFittedForItRefusesTheTest) {
  Plan plan = strawberry_plan();
  plan.climate.dehumidifier_place = DehumidifierPlace::room;
  Rig in_room = rig_at(kNight, plan);
  EXPECT_EQ(begin(in_room, Output::dehumidifier), Reason::step_test_in_room);
  plan.outputs[Output::dehumidifier].reset();
  Rig without = rig_at(kNight, plan);
  EXPECT_EQ(begin(without, Output::dehumidifier), Reason::not_fitted);
  plan.outputs[Output::exhaust_fan]->variable = false;
  Rig one_level = rig_at(kNoon, plan);
  EXPECT_EQ(begin(one_level, Output::exhaust_fan), Reason::step_test_fan_needed);
  Plan observing = strawberry_plan();
  observing.outputs[Output::dehumidifier]->driven = false;
  Rig watched = rig_at(kNoon, observing);
  EXPECT_EQ(begin(watched, Output::exhaust_fan), Reason::observing);
  Rig rig = rig_at(kNoon);
  EXPECT_EQ(begin(rig, Output::pump), Reason::request_unknown_target);
  EXPECT_TRUE(told(rig).empty());
}

TEST(StepTestStories, TheFanIsTestedByDayAndTheDehumidifierByNight) {
  Rig night = rig_at(kNight);
  EXPECT_EQ(begin(night, Output::exhaust_fan), Reason::step_test_by_day);
  Rig noon = rig_at(kNoon);
  EXPECT_EQ(begin(noon, Output::dehumidifier), Reason::step_test_by_night);
}

TEST(StepTestStories, TheWindowMustBeClearOfLightEdgesAndFloodsBeforeAndAfter) {
  struct Row {
    std::int32_t at;
    Output output;
    Reason answer;
  };
  const Row rows[] = {
      {6 * 3600 + 300, Output::exhaust_fan, Reason::step_test_flood_near},
      {10 * 3600 + 25 * 60, Output::exhaust_fan, Reason::step_test_flood_near},
      {10 * 3600 + 15 * 60, Output::exhaust_fan, Reason::request_accepted},
      {21 * 3600 + 25 * 60, Output::exhaust_fan, Reason::step_test_edge_near},
      {22 * 3600 + 5 * 60, Output::dehumidifier, Reason::step_test_edge_past},
      {22 * 3600 + 20 * 60, Output::dehumidifier, Reason::request_accepted},
      {4 * 3600 + 55 * 60, Output::dehumidifier, Reason::step_test_edge_near},
      {4 * 3600 + 45 * 60, Output::dehumidifier, Reason::request_accepted},
  };
  for (const Row& row : rows) {
    Rig rig = rig_at(row.at);
    EXPECT_EQ(begin(rig, row.output), row.answer) << row.at / 3600 << ":" << row.at / 60 % 60;
  }
}

TEST(StepTestStories, TheAirHasTwentyMinutesToCalmDownAfterAFlood) {
  Plan plan = strawberry_plan();
  plan.table.min_gap = minutes{5};
  Rig rig = rig_at(11 * 3600 - 120, plan);
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, minutes{5}));
  EXPECT_EQ(begin(rig, Output::exhaust_fan), Reason::step_test_water_moves);
  ASSERT_TRUE(
      rig.run_until([&] { return rig.state.flood.phase == FloodPhase::idle; }, minutes{90}));
  EXPECT_EQ(begin(rig, Output::exhaust_fan), Reason::step_test_flood_past);
  rig.run(minutes{20} - (rig.now - rig.state.flood.last_ended));
  EXPECT_EQ(begin(rig, Output::exhaust_fan), Reason::request_accepted);
}

TEST(StepTestStories, ACompressorThatMustBeSilentIsNotTestedInQuietHours) {
  Plan plan = strawberry_plan();
  plan.outputs[Output::dehumidifier]->quiet_ceiling = kStopped;
  plan.programme.quiet = {true, 2 * 3600, 5 * 3600};
  Rig rig = rig_at(1 * 3600 + 1800, plan);
  EXPECT_EQ(begin(rig, Output::dehumidifier), Reason::quiet_hours);
  Rig early = rig_at(kNight, plan);
  EXPECT_EQ(begin(early, Output::dehumidifier), Reason::request_accepted);
}

TEST(StepTestStories, AFallowTentHasNothingToMeasureBy) {
  Rig rig = rig_at(kNoon);
  rig.ask({.kind = RequestKind::enter_stage, .number = 1});
  EXPECT_EQ(begin(rig, Output::exhaust_fan), Reason::step_test_fallow);
}

// What may come up at any time: refuses a start, and ends a test under way.
struct Obstacle {
  const char* name;
  Reason reason;
  void (*happens)(Rig&);
};
const Obstacle kObstacles[] = {
    {"canopy lost", Reason::no_canopy_reading, [](Rig& r) { r.silence(Point::canopy_humidity); }},
    {"air too warm", Reason::step_test_warm,
     [](Rig& r) { r.values[Point::canopy_temperature] = 29.2; }},
    {"air too cold", Reason::step_test_cold,
     [](Rig& r) { r.plan.programme.stages[0].air_lowest = Celsius{23.5}; }},
    {"air too humid", Reason::step_test_humid,
     [](Rig& r) { r.plan.programme.stages[0].humidity_ceiling = PercentRh{68}; }},
    {"dew near", Reason::condensation_near,
     [](Rig& r) { r.plan.climate.dew_point_margin = Celsius{5}; }},
    {"an alarm", Reason::step_test_alarm,
     [](Rig& r) { r.contact(Point::bucket_full, Contact::set); }},
    {"service", Reason::service_holds,
     [](Rig& r) { r.ask({.kind = RequestKind::service_begin, .duration = minutes{20}}); }},
    {"fan held", Reason::step_test_held,
     [](Rig& r) { r.ask(hold(Output::exhaust_fan, Permille{500}, minutes{5})); }},
    {"dehumidifier held", Reason::step_test_held,
     [](Rig& r) { r.ask(hold(Output::dehumidifier, kRunning, minutes{5})); }},
    {"a flood", Reason::step_test_water_moves,
     [](Rig& r) { r.ask({.kind = RequestKind::flood_start}); }},
    {"pump held", Reason::step_test_water_moves,
     [](Rig& r) { r.ask(hold(Output::pump, kRunning, minutes{1})); }},
    {"a flood moved near", Reason::step_test_flood_near,
     [](Rig& r) { r.wall_shift = hours{3} + minutes{5}; }},
    {"a light edge moved near", Reason::step_test_edge_near,
     [](Rig& r) { r.plan.programme.stages[0].light_length_s = 6 * 3600 + 1800; }},
    {"time lost", Reason::time_not_known,
     [](Rig& r) { r.inputs.wall.quality = TimeQuality::unset; }},
    {"safe mode", Reason::safe_mode, [](Rig& r) { r.inputs.safe_mode = true; }},
};

TEST(StepTestStories, NothingThatSpeaksAgainstItLetsItStart) {
  for (const Obstacle& row : kObstacles) {
    Rig rig = rig_at(kNoon);
    row.happens(rig);
    rig.run_until([] { return false; }, rig.running(Output::pump) ? seconds{20} : minutes{2});
    EXPECT_EQ(begin(rig, Output::exhaust_fan), row.reason) << row.name;
    EXPECT_FALSE(rig.state.step_test.running) << row.name;
    EXPECT_TRUE(told(rig).empty()) << row.name;
  }
}

TEST(StepTestStories, WhateverComesToSpeakAgainstItEndsItWithThatReason) {
  for (const Obstacle& row : kObstacles) {
    Rig rig = rig_at(kNoon);
    ASSERT_EQ(begin(rig, Output::exhaust_fan), Reason::request_accepted) << row.name;
    rig.run(minutes{5});
    ASSERT_TRUE(rig.state.step_test.running) << row.name;
    row.happens(rig);
    const auto ended = [&] { return !rig.state.step_test.running; };
    // A probe is lost a minute after its last word; the rest is seen with the next sample.
    EXPECT_TRUE(rig.run_until(ended, seconds{61})) << row.name;
    EXPECT_EQ(told(rig).back().number, 0) << row.name;
    EXPECT_EQ(told(rig).back().because.reason, row.reason) << row.name;
    EXPECT_NE(rig.state.last.commands[Output::exhaust_fan].precedence, Precedence::sequence)
        << row.name;
  }
}

TEST(StepTestStories, AnAlarmOfAdvisoryRankIsNoObstacle) {
  Rig rig = rig_at(kNoon);
  rig.state.kept.alarms[static_cast<std::size_t>(Alarm::stage_due)].state =
      AlarmState::unacknowledged;
  rig.state.kept.stage_entered_date = 19000;
  EXPECT_EQ(begin(rig, Output::exhaust_fan), Reason::request_accepted);
}

TEST(StepTestStories, AShelvedAlarmIsAnObstacleAsLongAsItsCauseStands) {
  Rig rig = rig_at(kNoon);
  AlarmRecord& record = rig.state.kept.alarms[static_cast<std::size_t>(Alarm::bucket_full)];
  rig.contact(Point::bucket_full, Contact::set);
  rig.run(seconds{20});
  ASSERT_EQ(record.state, AlarmState::unacknowledged);
  rig.ask({.kind = RequestKind::shelve, .duration = hours{2}, .alarm = Alarm::bucket_full});
  ASSERT_EQ(record.state, AlarmState::shelved);
  EXPECT_EQ(begin(rig, Output::exhaust_fan), Reason::step_test_alarm);
  rig.contact(Point::bucket_full, Contact::clear);
  rig.run(seconds{20});
  EXPECT_EQ(begin(rig, Output::exhaust_fan), Reason::request_accepted);
}

TEST(StepTestStories, APersonEndsItAndASecondOneDoesNotStartBesideIt) {
  Rig rig = rig_at(kNoon);
  EXPECT_EQ(rig.ask(stop_test()).because.reason, Reason::step_test_not_running);
  ASSERT_EQ(begin(rig, Output::exhaust_fan), Reason::request_accepted);
  EXPECT_EQ(begin(rig, Output::exhaust_fan), Reason::step_test_running);
  rig.run(minutes{2});
  EXPECT_TRUE(rig.ask(stop_test()).accepted);
  EXPECT_EQ(told(rig).back().because.reason, Reason::step_test_stopped);
  EXPECT_EQ(rig.state.last.commands[Output::exhaust_fan].precedence, Precedence::loop);
}

TEST(StepTestStories, ADehumidifierThatTheTestStartedKeepsItsDwellWhenTheTestIsCutShort) {
  Rig rig = rig_at(kNight);
  ASSERT_EQ(begin(rig, Output::dehumidifier), Reason::request_accepted);
  rig.run(minutes{17});
  ASSERT_TRUE(rig.running(Output::dehumidifier));
  rig.ask(stop_test());
  EXPECT_TRUE(rig.running(Output::dehumidifier));
  EXPECT_EQ(rig.reason(Output::dehumidifier), Reason::min_on_dwell);
  rig.run(minutes{3} - seconds{2});
  EXPECT_TRUE(rig.running(Output::dehumidifier));
  rig.run(seconds{3});
  EXPECT_FALSE(rig.running(Output::dehumidifier));
}

TEST(StepTestStories, AFullBucketStandsOverTheTest) {
  Rig rig = rig_at(kNight);
  ASSERT_EQ(begin(rig, Output::dehumidifier), Reason::request_accepted);
  rig.run(minutes{25});
  ASSERT_TRUE(rig.running(Output::dehumidifier));
  rig.contact(Point::bucket_full, Contact::set);
  EXPECT_FALSE(rig.running(Output::dehumidifier)) << "at once, the alarm comes 10 s later";
}

TEST(StepTestStories, AfterARestartTheTestIsOverAndSaysSo) {
  Rig rig = rig_at(kNoon);
  ASSERT_EQ(begin(rig, Output::exhaust_fan), Reason::request_accepted);
  EXPECT_TRUE(rig.out.keep);
  rig.run(minutes{5});
  const Kept kept = rig.state.kept;
  rig.events.clear();
  rig.boot(&kept);
  rig.run(minutes{2});
  EXPECT_FALSE(rig.state.step_test.running);
  EXPECT_NE(rig.state.last.commands[Output::exhaust_fan].precedence, Precedence::sequence);
  const auto events = told(rig);
  ASSERT_EQ(events.size(), 1u);
  EXPECT_EQ(events[0].number, 0);
  EXPECT_EQ(events[0].output, Output::exhaust_fan);
  EXPECT_EQ(events[0].because.reason, Reason::step_test_cut_off);
  const Kept after = rig.state.kept;
  rig.events.clear();
  rig.boot(&after);
  rig.run(minutes{2});
  EXPECT_TRUE(told(rig).empty()) << "told once";
}

// The step test's own part of the property that scans may come seldom.
TEST(StepTestStories, NextWakeSteppingGrantsTheSameCommandsAsEverySecond) {
  const auto changes = [](Stepping stepping, const Obstacle* obstacle) {
    Rig rig{strawberry_plan(), kNoon, stepping};
    rig.run(minutes{1});
    rig.ask(test_of(Output::exhaust_fan));
    rig.run(minutes{13} + seconds{7});
    if (obstacle != nullptr) obstacle->happens(rig);
    rig.scan_now();  // a reload or a clock that steps is followed by a scan
    rig.run(minutes{25});
    return rig.changes();
  };
  EXPECT_EQ(changes(Stepping::each_second, nullptr), changes(Stepping::next_wake, nullptr));
  for (const Obstacle& row : kObstacles)
    EXPECT_EQ(changes(Stepping::each_second, &row), changes(Stepping::next_wake, &row)) << row.name;
}

}  // namespace
}  // namespace neap::test
