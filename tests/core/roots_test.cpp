// Goal: no withheld flood is silent: the roots' clock counts what medium, light and air cost them,
// says until when they are safe, and escalates. Method: the whole scan on the rig.
#include "daemon/core/roots.h"

#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr std::int32_t kMorning = 5 * 3600 + 1800;  // half an hour before lights-on

AlarmState alarm(const Rig& rig, Alarm which) { return rig.alarm(which); }
const Because& told(const Rig& rig, Alarm which) {
  return rig.state.kept.alarms[static_cast<std::size_t>(which)].because;
}

// A day's floods at 06:30 and, as the plan spreads them, until 20:00.
Rig after_first_flood(Plan plan = strawberry_plan()) {
  Rig rig{std::move(plan), kMorning};
  EXPECT_TRUE(rig.run_until([&] { return rig.state.kept.roots.proven; }, hours{2}));
  rig.run(minutes{50});
  return rig;
}

TEST(RootsStories, AWithheldFloodTellsItsDeadlineAndEscalatesByHalfAndByWhole) {
  Rig rig = after_first_flood();
  const Instant watered = instant(Millis{rig.state.kept.roots.since_tick});
  rig.silence(Point::tray_high);
  ASSERT_TRUE(rig.run_until(
      [&] { return alarm(rig, Alarm::flood_withheld) == AlarmState::unacknowledged; }, hours{6}));
  const Millis limit = roots_limit(rig.plan, rig.state);
  ASSERT_TRUE(rig.run_until(
      [&] { return alarm(rig, Alarm::flood_missed) == AlarmState::unacknowledged; }, minutes{20}));
  EXPECT_EQ(told(rig, Alarm::flood_missed).reason, Reason::flood_missed);
  const double until = told(rig, Alarm::flood_missed).args[0];
  EXPECT_EQ(alarm(rig, Alarm::roots_dry), AlarmState::normal);
  ASSERT_TRUE(rig.run_until(
      [&] { return alarm(rig, Alarm::roots_dry) == AlarmState::unacknowledged; }, hours{9}));
  EXPECT_EQ(alarm(rig, Alarm::roots_thirsty), AlarmState::unacknowledged);
  EXPECT_EQ(info(Alarm::roots_thirsty).priority, Priority::high);
  EXPECT_EQ(info(Alarm::roots_dry).priority, Priority::critical);
  // 24 C and 66 % are 1.01 kPa (Huang 2018): in the light the time runs about as it is set.
  const double waited_s = static_cast<double>((rig.now - watered).count()) / 1000;
  EXPECT_NEAR(waited_s, static_cast<double>(limit.count()) / 1000 / 1.014, 60);
  EXPECT_NEAR(rig.state.civil.second_of_day, until, 11 * 60) << "as it was told hours before";
}

TEST(RootsStories, HalfOfTheTimeGoneIsTheSecondRung) {
  Rig rig = after_first_flood();
  const Instant watered = instant(Millis{rig.state.kept.roots.since_tick});
  rig.silence(Point::tray_high);
  ASSERT_TRUE(rig.run_until(
      [&] { return alarm(rig, Alarm::roots_thirsty) == AlarmState::unacknowledged; }, hours{9}));
  EXPECT_EQ(alarm(rig, Alarm::roots_dry), AlarmState::normal);
  EXPECT_GE(rig.now - watered, roots_limit(rig.plan, rig.state) / 2 / 1.05);
  EXPECT_EQ(told(rig, Alarm::roots_thirsty).reason, Reason::roots_safe_until);
}

TEST(RootsStories, TheRungsCannotBeShelvedAndAFloodThatFillsEndsThem) {
  Rig rig = after_first_flood();
  rig.silence(Point::tray_high);
  ASSERT_TRUE(rig.run_until(
      [&] { return alarm(rig, Alarm::roots_dry) == AlarmState::unacknowledged; }, hours{12}));
  for (const Alarm which : {Alarm::roots_thirsty, Alarm::roots_dry})
    EXPECT_FALSE(
        rig.ask({.kind = RequestKind::shelve, .duration = hours{1}, .alarm = which}).accepted);
  rig.silence(Point::tray_high, false);
  rig.run(minutes{1});
  rig.ask({.kind = RequestKind::flood_start});
  rig.run(minutes{4});
  EXPECT_EQ(alarm(rig, Alarm::roots_dry), AlarmState::returned);
  EXPECT_EQ(alarm(rig, Alarm::flood_missed), AlarmState::returned);
}

TEST(RootsStories, AMediumThatKeepsWaterWaitsLonger) {
  Plan plan = strawberry_plan();
  plan.table.medium = Medium::coco;
  Rig rig = after_first_flood(plan);
  rig.silence(Point::tray_high);
  rig.run(hours{9});
  EXPECT_EQ(alarm(rig, Alarm::flood_missed), AlarmState::unacknowledged);
  EXPECT_EQ(alarm(rig, Alarm::roots_thirsty), AlarmState::normal);
  plan.table.dry_out = hours{4};
  Rig short_one = after_first_flood(plan);
  short_one.silence(Point::tray_high);
  short_one.run(hours{9});
  EXPECT_EQ(alarm(short_one, Alarm::roots_dry), AlarmState::unacknowledged) << "the owner's word";
}

TEST(RootsStories, DryAirUsesTheTimeUpFasterAndTheNightSlower) {
  const auto left_after = [](double humidity, Millis span) {
    Rig rig = after_first_flood();
    rig.values[Point::canopy_humidity] = humidity;
    rig.silence(Point::tray_high);
    rig.run(span);
    return *roots_left(rig.plan, rig.state);
  };
  const Millis usual = left_after(66, hours{3});
  EXPECT_LT(left_after(50, hours{3}), usual - minutes{40});
  EXPECT_GT(left_after(82, hours{3}), usual + minutes{40});

  Rig night{strawberry_plan(), kMorning};
  night.run(hours{17});  // 22:30, lights off since 22:00
  const std::int64_t before = night.state.kept.roots.spent;
  night.run(hours{4});
  const double part = static_cast<double>(night.state.kept.roots.spent - before) /
                      (1000.0 * Millis{hours{4}}.count());
  EXPECT_NEAR(part, 0.30 * 1.014, 0.01) << "of a reference hour each hour";
}

TEST(RootsStories, AQuietTimeOfTheProgrammeIsNobodysAlarm) {
  Plan plan = strawberry_plan();
  plan.programme.stages[0].floods.count = 1;  // on clay: the crop has shown that it stands it
  Rig rig{plan, kMorning};
  rig.run(hours{24 * 3});
  for (const Alarm which : {Alarm::roots_thirsty, Alarm::roots_dry, Alarm::flood_missed})
    EXPECT_EQ(alarm(rig, which), AlarmState::normal) << info(which).name;
  EXPECT_EQ(rig.rows().size(), 3u);
}

TEST(RootsStories, TheClockSurvivesARestartAndCountsTheOutageByTheWallClock) {
  Rig rig = after_first_flood();
  const Kept kept = rig.state.kept;
  rig.wall_shift = hours{5};  // the tick stood still
  rig.boot(&kept);
  rig.scan_now();
  const std::int64_t grown = rig.state.kept.roots.spent - kept.roots.spent;
  EXPECT_NEAR(static_cast<double>(grown) / 1000, 0.3 * Millis{hours{5}}.count(), 11'000)
      << "and up to ten seconds since the last scan";
  rig.run(minutes{10});
  EXPECT_LT(rig.state.kept.roots.spent - kept.roots.spent - grown,
            2 * 1000 * Millis{minutes{10}}.count())
      << "counted once";
}

TEST(RootsStories, WithoutATimeOfDayTheRootsStillSpeak) {
  Rig rig{strawberry_plan(), kMorning};
  rig.inputs.wall.quality = TimeQuality::unset;
  ASSERT_TRUE(rig.run_until(
      [&] { return alarm(rig, Alarm::roots_dry) == AlarmState::unacknowledged; }, hours{40}));
  EXPECT_EQ(told(rig, Alarm::roots_dry).reason, Reason::roots_dry);
}

// --- a slot that was spent without water (hazards PWR1, PWR4) ---------------------------------

TEST(RootsStories, ASlotCutOffByATripIsAMissedFlood) {
  Rig rig{strawberry_plan(), kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{2}));
  rig.run(seconds{30});
  rig.contact(Point::leak_floor, Contact::set);
  rig.contact(Point::leak_floor, Contact::clear);
  rig.run(minutes{2});
  EXPECT_EQ(alarm(rig, Alarm::flood_missed), AlarmState::unacknowledged);
  EXPECT_TRUE(rig.state.kept.roots.cut_short);
}

TEST(RootsStories, ASlotCutOffByAPowerCutIsAMissedFlood) {
  Rig rig{strawberry_plan(), kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{2}));
  rig.run(seconds{30});
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  rig.run(minutes{1});
  EXPECT_EQ(alarm(rig, Alarm::flood_missed), AlarmState::unacknowledged);
  ASSERT_TRUE(rig.run_until([&] { return alarm(rig, Alarm::flood_missed) == AlarmState::returned; },
                            hours{6}))
      << "the next flood that fills";
}

TEST(RootsStories, ASlotWhosePumpMovesNothingIsMissedOnlyWhenItsRetriesAreSpent) {
  Rig rig{strawberry_plan(), kMorning};
  rig.pump_l_per_s = 0;
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{2}));
  rig.run(minutes{4});
  EXPECT_EQ(alarm(rig, Alarm::flood_missed), AlarmState::normal);
  EXPECT_FALSE(rig.state.kept.roots.cut_short) << "its retry is five minutes away";
  rig.run(minutes{30});
  EXPECT_TRUE(rig.state.kept.roots.cut_short);
  EXPECT_EQ(alarm(rig, Alarm::flood_missed), AlarmState::unacknowledged);
}

TEST(RootsStories, AWaitOfSecondsIsNotToldAsOne) {
  Rig rig{strawberry_plan(), kMorning};
  rig.scan_now();
  rig.run(seconds{8});
  EXPECT_EQ(roots_because(rig.plan, rig.state, rig.now).args[1], 0);
  rig.run(minutes{31});
  EXPECT_NEAR(roots_because(rig.plan, rig.state, rig.now).args[1], 31 * 60 + 8, 1);
}

TEST(RootsStories, AFloodCutInItsSoakHasWateredTheRoots) {
  Rig rig{strawberry_plan(), kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.state.flood.phase == FloodPhase::soak; }, hours{2}));
  rig.run(minutes{1});
  rig.ask({.kind = RequestKind::flood_stop});
  rig.run(hours{1});
  EXPECT_EQ(alarm(rig, Alarm::flood_missed), AlarmState::normal);
  EXPECT_FALSE(rig.state.kept.roots.cut_short);
}

}  // namespace
}  // namespace neap::test
