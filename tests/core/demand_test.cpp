// Goal: floods by demand come when VPD over time has come to the amount, between the two bounds,
// in their hours, once. Method: the arithmetic by hand beside each case, and the whole scan on the
// rig. 24 C and 66 % are 1.014 kPa, at 50 % 1.492 kPa (Huang 2018, as psychrometrics_test).
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "daemon/core/demand_clock.h"
#include "daemon/core/roots.h"
#include "daemon/core/schedule.h"
#include "tests/core/rig.h"

namespace neap::test {
namespace {

using testing::ElementsAre;

constexpr std::int32_t kDate = 20605;  // 2026-06-01
constexpr std::int32_t kHour = 3600;
constexpr std::int32_t kMorning = 5 * 3600 + 1800;

// Light from 06:00 to 22:00, floods from 06:30 to 20:00.
StagePlan thirsty_stage() {
  StagePlan stage = leafing_stage();
  stage.floods.rule = SlotRule::by_demand;
  stage.floods.demand_kpa_h = 3;
  stage.floods.no_sooner = hours{2};
  stage.floods.no_later = hours{5};
  return stage;
}

Plan thirsty_plan() {
  Plan plan = strawberry_plan();
  plan.programme.stages[0] = thirsty_stage();
  return plan;
}

struct Case {
  const char* what;
  std::int32_t at_s;  // of the day
  Millis since;
  double used_kpa_h;
  std::optional<int> pa;
  Millis expected;
  Millis latest;
};

class DemandTimesOf : public testing::TestWithParam<Case> {};

TEST_P(DemandTimesOf, AreTheAmountBetweenItsBounds) {
  const Case& c = GetParam();
  DemandNow now{.at = {kDate, c.at_s}, .since = c.since};
  now.used = static_cast<std::int64_t>(c.used_kpa_h * 3.6e9);
  if (c.pa) now.rate = *c.pa;
  const auto times = demand_times({}, thirsty_stage(), now);
  ASSERT_TRUE(times.has_value()) << c.what;
  EXPECT_EQ(times->expected, c.expected) << c.what;
  EXPECT_EQ(times->latest, c.latest) << c.what;
}

INSTANTIATE_TEST_SUITE_P(
    , DemandTimesOf,
    testing::Values(
        Case{"3 kPa h at 1 kPa", 8 * kHour, {}, 0, 1000, hours{3}, hours{5}},
        Case{"a part is used", 8 * kHour, hours{1}, 1, 1000, hours{2}, hours{4}},
        Case{"dry air: no sooner", 8 * kHour, {}, 0, 3000, hours{2}, hours{5}},
        Case{"damp air: no later", 8 * kHour, {}, 0, 300, hours{5}, hours{5}},
        Case{"no reading: as late as may be", 8 * kHour, hours{1}, 2.9, {}, hours{4}, hours{4}},
        Case{"used up long ago", 12 * kHour, hours{4}, 4, 1000, Millis{0}, hours{1}},
        Case{"used up, too soon", 12 * kHour, hours{1}, 4, 1000, hours{1}, hours{4}},
        Case{"before its hours", 6 * kHour, hours{4}, 4, 1000, minutes{30}, hours{1}},
        Case{"the evening's, in its last minute",
             17 * kHour,
             {},
             0,
             300,
             hours{3} - minutes{1},
             hours{3} - minutes{1}},
        Case{"too near to the evening: the morning's",
             19 * kHour,
             {},
             0,
             1000,
             hours{11} + minutes{30},
             hours{11} + minutes{30}},
        // 1.0 kPa until 22:00 and 0.8 kPa * 0.3 by night are 3 + 8 h * 0.24: used up at 22:00.
        Case{"by night the roots use little", 21 * kHour, hours{2}, 0, 1000, hours{9} + minutes{30},
             hours{9} + minutes{30}}));

TEST(Demand, AnOutageBringsTheLatestNearerButNoFloodTooSoon) {
  DemandNow now{.at = {kDate, 12 * kHour}, .since = hours{1}, .away = hours{9}};
  EXPECT_EQ(demand_times({}, thirsty_stage(), now)->latest, hours{1});
  now.since = hours{2};
  EXPECT_EQ(demand_times({}, thirsty_stage(), now)->latest, Millis{0});
}

TEST(Demand, QuietHoursTakeTheirTimeOut) {
  ProgrammePlan programme;
  programme.quiet = {true, 12 * kHour, 14 * kHour};  // no flood begins from 11:30 to 14:00
  DemandNow now{.at = {kDate, 9 * kHour}, .rate = 1000};
  StagePlan stage = thirsty_stage();
  EXPECT_EQ(demand_times(programme, stage, now)->expected, hours{5}) << "used up at 12:00: 14:00";
  stage.floods.no_later = hours{4};
  EXPECT_EQ(demand_times(programme, stage, now)->expected,
            hours{2} + minutes{30} - minutes{1} - seconds{1})
      << "13:00 is quiet: the last minute before 11:30";
  programme.quiet = {true, 20 * kHour, 19 * kHour};
  stage.floods.last_before_s = 4 * kHour;  // till 18:00, quiet till 19:00
  EXPECT_FALSE(demand_times(programme, stage, now).has_value());
}

TEST(Demand, TheForecastIsADayInMidBand) {
  FloodSlots slots;
  slots_of({}, thirsty_stage(), kDate, slots);  // 1.0 kPa: every three hours from 06:30
  std::vector<std::int32_t> starts;
  for (const FloodSlot& slot : slots) starts.push_back(slot.start.second_of_day);
  EXPECT_THAT(starts, ElementsAre(23400, 34200, 45000, 55800, 66600)) << "06:30 to 18:30";
  EXPECT_EQ(slots[4].id, (SlotId{kDate, 5}));
}

// A flood may begin at `t` by the words of the settings: margins of the light and quiet hours,
// judged without the stretches that the code makes of them.
bool may_begin(const ProgrammePlan& programme, const StagePlan& stage, CivilTime t) {
  const LightEdges edges = photoperiod_at(stage, t);
  const std::int64_t into = civil_seconds_between(edges.on, t);
  const bool in_margins = into >= stage.floods.first_after_s && is_light(stage, t) &&
                          into <= stage.light_length_s - stage.floods.last_before_s;
  const CivilTime drained = later(t, kBeforeQuiet);
  return in_margins && !in_quiet_hours(programme.quiet, t.second_of_day) &&
         !in_quiet_hours(programme.quiet, drained.second_of_day);
}

TEST(Demand, NoClockBringsAFloodOutOfItsHoursOrBounds) {
  std::mt19937 random(20261126);
  const auto upto = [&](int most) { return static_cast<std::int32_t>(random() % (most + 1u)); };
  int judged = 0;
  for (int i = 0; i < 20'000; ++i) {
    StagePlan stage = thirsty_stage();
    stage.lights_on_s = upto(kSecondsPerDay - 1);
    stage.light_length_s = 8 * kHour + upto(16 * kHour);
    stage.floods.first_after_s = upto(2 * kHour);
    stage.floods.last_before_s = upto(4 * kHour);
    stage.floods.no_sooner = seconds{kHour + upto(4 * kHour)};
    stage.floods.no_later = stage.floods.no_sooner + seconds{upto(6 * kHour)};
    ProgrammePlan programme;
    programme.quiet = {upto(1) == 1, upto(kSecondsPerDay - 1), 0};
    // Of half an hour or more, so that one lies in them or its drain does.
    programme.quiet.to_s = (programme.quiet.from_s + 1800 + upto(8 * kHour)) % kSecondsPerDay;
    DemandNow now{.at = {kDate, upto(kSecondsPerDay - 1)}, .since = seconds{upto(20 * kHour)}};
    now.used = static_cast<std::int64_t>(upto(5'000)) * 3'600'000;
    if (upto(3) > 0) now.rate = upto(3'000);
    const auto times = demand_times(programme, stage, now);
    if (!times) continue;
    ++judged;
    const Millis flood = std::max(times->expected, Millis{0});
    ASSERT_LE(times->expected, times->latest) << i;
    ASSERT_GE(now.since + flood, stage.floods.no_sooner) << i;
    ASSERT_TRUE(may_begin(programme, stage, later(now.at, (flood.count() + 999) / 1000))) << i;
    const Millis bound = std::max(stage.floods.no_later - now.since, Millis{0});
    const CivilTime at_bound = later(now.at, bound.count() / 1000);
    ASSERT_TRUE(flood <= bound || !may_begin(programme, stage, at_bound)) << i;
  }
  EXPECT_GT(judged, 15'000);
}

// Seconds from one filled tray to the next flood's start.
std::vector<double> pauses(const Rig& rig) {
  std::vector<double> out;
  const auto rows = rig.rows();
  for (std::size_t i = 1; i < rows.size(); ++i)
    out.push_back(static_cast<double>(rows[i].started_tick - rows[i - 1].started_tick -
                                      rows[i - 1].fill.count()) /
                  1000);
  return out;
}

// Two days from half an hour before lights-on.
Rig two_days(double humidity) {
  Rig rig{thirsty_plan(), kMorning};
  rig.values[Point::canopy_humidity] = humidity;
  rig.run(hours{41});
  return rig;
}

TEST(DemandStories, ConstantAirFloodsEveryAmountByVpd) {
  const Rig rig = two_days(66);
  const auto rows = rig.rows();
  ASSERT_GE(rows.size(), 9u);
  const auto apart = pauses(rig);
  const double by_amount = 3 / rig.state.canopy.vpd->value * 3600;
  EXPECT_NEAR(by_amount, 3 / 1.014 * 3600, 20);
  for (std::size_t i = 1; i < 3; ++i) EXPECT_NEAR(apart[i], by_amount, 3) << i;
  for (const CycleRow& row : rows) EXPECT_EQ(row.origin, FloodOrigin::slot);
}

TEST(DemandStories, TheDarkCountsAPart) {
  Rig rig{thirsty_plan(), kMorning};
  rig.run(hours{17});  // 22:30, lights off since 22:00
  const double before = demand_outlook(rig.plan, rig.state)->used_kpa_h;
  rig.run(hours{4});
  EXPECT_NEAR(demand_outlook(rig.plan, rig.state)->used_kpa_h - before, 4 * 1.014 * 0.30, 0.01);
}

TEST(DemandStories, ADryDayFloodsMoreOftenThanADampOneAndNeitherLeavesItsBounds) {
  const Rig dry = two_days(40);
  const Rig damp = two_days(90);
  EXPECT_GT(dry.rows().size(), damp.rows().size() + 3);
  for (const Rig* rig : {&dry, &damp})
    for (const double s : pauses(*rig)) {
      EXPECT_GE(s, 2 * 3600);
      EXPECT_LE(s, 12.6 * 3600) << "the night, and no more";
    }
  for (const Alarm which : {Alarm::flood_missed, Alarm::roots_thirsty, Alarm::roots_dry})
    EXPECT_EQ(damp.alarm(which), AlarmState::normal) << info(which).name;
}

TEST(DemandStories, AnUnreadableProbeFloodsAtTheLatest) {
  Rig rig{thirsty_plan(), kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.rows().size() == 1; }, hours{8}));
  rig.silence(Point::canopy_humidity);
  rig.run(minutes{30});
  EXPECT_TRUE(demand_outlook(rig.plan, rig.state)->blind);
  rig.run(hours{6});
  ASSERT_EQ(rig.rows().size(), 2u);
  EXPECT_NEAR(pauses(rig)[0], 5 * 3600, 5) << "the float must be full for seconds";
}

TEST(DemandStories, ARestartNeitherForgetsNorRepeats) {
  const auto second_flood = [](int restarts, Millis wall) {
    Rig rig{thirsty_plan(), kMorning};
    EXPECT_TRUE(rig.run_until([&] { return rig.rows().size() == 1; }, hours{8}));
    for (int i = 0; i < restarts; ++i) {
      rig.run(minutes{20});
      const Kept kept = rig.state.kept;
      rig.wall_shift += wall;
      rig.boot(&kept);
      rig.scan_now();
    }
    rig.run_until([&] { return rig.rows().size() == 2; }, hours{8});
    EXPECT_EQ(rig.rows().size(), 2u);
    return pauses(rig)[0];
  };
  EXPECT_NEAR(second_flood(4, {}), second_flood(0, {}), 40) << "a reading is awaited each time";
  EXPECT_NEAR(second_flood(1, hours{1}), second_flood(0, {}), 15)
      << "an hour without power used nothing that is known of";
}

// The tick stands still without power; roots do not.
TEST(DemandStories, AnOutageCountsTowardsTheLatest) {
  Rig rig{thirsty_plan(), kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.rows().size() == 1; }, hours{8}));
  rig.silence(Point::canopy_humidity);
  rig.run(hours{1});
  const Kept kept = rig.state.kept;
  rig.wall_shift = hours{2};
  rig.boot(&kept);
  rig.run(hours{3});
  ASSERT_EQ(rig.rows().size(), 2u);
  EXPECT_NEAR(pauses(rig)[0], 3 * 3600, 15) << "of five hours two were without power";
}

TEST(DemandStories, NoStepOfTheClockFloodsTwice) {
  for (const Millis step : {Millis{hours{-2}}, Millis{hours{1}}, Millis{minutes{-50}}}) {
    Rig rig{thirsty_plan(), kMorning};
    ASSERT_TRUE(rig.run_until([&] { return rig.rows().size() == 2; }, hours{16}));
    rig.wall_shift = step;
    rig.run(hours{24});
    const auto rows = rig.rows();
    for (const double s : pauses(rig)) EXPECT_GE(s, 2 * 3600) << step.count();
    for (std::size_t i = 1; i < rows.size(); ++i) EXPECT_NE(rows[i].slot, rows[i - 1].slot);
    EXPECT_GE(rows.size(), 5u);
  }
}

TEST(DemandStories, WithheldOneIsSkippedCaughtUpOnceAndNotRepeated) {
  Rig rig{thirsty_plan(), kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.rows().size() == 1; }, hours{8}));
  rig.run(minutes{60});
  rig.silence(Point::tray_high);
  ASSERT_TRUE(rig.run_until([&] { return rig.state.slot_due; }, hours{4}));
  EXPECT_NE(rig.state.withheld.reason, Reason::none);
  ASSERT_TRUE(rig.run_until([&] { return rig.count(EventKind::slot_skipped) == 1; }, minutes{16}));
  EXPECT_TRUE(rig.state.kept.catch_up_pending);
  rig.silence(Point::tray_high, false);
  rig.run(hours{1});
  ASSERT_EQ(rig.rows().size(), 2u);
  EXPECT_EQ(rig.rows()[1].origin, FloodOrigin::catch_up);
  rig.run(hours{1});
  EXPECT_EQ(rig.rows().size(), 2u);
}

TEST(DemandStories, AFloodByHandCountsAndOpensNoSecond) {
  Rig rig{thirsty_plan(), kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.rows().size() == 1; }, hours{8}));
  rig.run(minutes{150});
  ASSERT_TRUE(rig.ask({.kind = RequestKind::flood_start}).accepted);
  rig.run(hours{2});
  EXPECT_EQ(rig.rows().size(), 2u) << "due in half an hour before, not now";
  const auto outlook = demand_outlook(rig.plan, rig.state);
  ASSERT_TRUE(outlook.has_value());
  EXPECT_NEAR(outlook->used_kpa_h, 2 * 1.014 - 0.03, 0.05);
}

TEST(DemandStories, BothWaysOfSteppingFloodAtTheSameSecond) {
  const auto changes = [](Stepping stepping) {
    Rig rig{thirsty_plan(), kMorning, stepping};
    rig.air = [](Rig& r) {
      const auto minute = static_cast<double>(tick_ms(r.now) / 60'000 % 120);
      r.values[Point::canopy_humidity] = 50 + minute / 4;
    };
    rig.run(hours{30});
    return rig.changes();
  };
  EXPECT_EQ(changes(Stepping::next_wake), changes(Stepping::each_second));
}

}  // namespace
}  // namespace neap::test
