// Goal: sensors that only a cycle of their supply brings back come back, in a
// time that does not wear them, never while water is under way, and nobody is
// told of readings lost meanwhile.
#include "daemon/core/rail.h"

#include <gtest/gtest.h>

#include <array>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr std::array kOnRail{Point::canopy_temperature, Point::canopy_humidity};
constexpr Millis kBad = limits::kBadAfter + seconds{10};  // sampled each 10 s

struct WithRail : Rig {
  WithRail() : Rig{plan_of(), 7 * 3600, Stepping::each_second} { run(minutes{2}); }
  static Plan plan_of() {
    Plan plan = strawberry_plan();
    plan.programme.stages[0].floods.rule = SlotRule::none;
    plan.outputs[Output::sensor_rail] = two_position(kRunning);
    for (const Point point : kOnRail) plan.points[point]->on_rail = true;
    return plan;
  }
  bool off() const { return !running(Output::sensor_rail); }
  void all_silent() {
    for (const Point point : kOnRail) silence(point);
  }
  // How long until the supply goes off; `most` when it does not.
  Millis until_off(Millis most) {
    const Instant from = now;
    run_until([&] { return off(); }, most);
    return now - from;
  }
};

TEST(Rail, IsCycledWhenAllItsPointsAreSilentForHalfAMinute) {
  WithRail rig;
  rig.all_silent();
  const Millis took = rig.until_off(minutes{10});
  EXPECT_GE(took, kRailAllSilent + limits::kBadAfter - seconds{10});
  EXPECT_LE(took, kRailAllSilent + kBad);
  EXPECT_EQ(rig.reason(Output::sensor_rail), Reason::rail_cycles);
  rig.run(kRailOff - seconds{1});
  EXPECT_TRUE(rig.off());
  rig.run(seconds{1});
  EXPECT_FALSE(rig.off());
}

TEST(Rail, WaitsFiveMinutesForOneOfThem) {
  WithRail rig;
  rig.silence(Point::canopy_humidity);
  EXPECT_GE(rig.until_off(minutes{10}), kRailOneSilent);
  EXPECT_TRUE(rig.off());
}

// Else no pump would run until the next start.
TEST(Rail, ACycleEndsWithTheSettingsThatKnewOfARail) {
  WithRail rig;
  rig.all_silent();
  rig.until_off(minutes{10});
  ASSERT_TRUE(rail_is_cycling(rig.state));
  rig.plan.outputs[Output::sensor_rail].reset();
  rig.run(seconds{2});
  EXPECT_FALSE(rail_is_cycling(rig.state));
  EXPECT_FALSE(rig.state.kernel_inputs.rail_off);
}

TEST(Rail, IsLeftAloneWhileItsPointsSpeak) {
  WithRail rig;
  rig.silence(Point::room_temperature);  // hangs elsewhere
  EXPECT_EQ(rig.until_off(hours{2}), hours{2});
}

TEST(Rail, IsTriedAgainAfterTenMinutesThenAfterTwiceAsLongAndToldAfterTheSecondTry) {
  WithRail rig;
  rig.all_silent();
  rig.until_off(minutes{10});
  rig.run(kRailOff + kRailSettles);
  EXPECT_EQ(rig.alarm(Alarm::rail_helps_not), AlarmState::normal);
  EXPECT_EQ(rig.until_off(hours{1}), kRailWaits);
  rig.run(kRailOff + kRailSettles);
  EXPECT_EQ(rig.alarm(Alarm::rail_helps_not), AlarmState::unacknowledged);
  EXPECT_EQ(rig.until_off(hours{1}), 2 * kRailWaits);
  for (int i = 0; i < 6; ++i) rig.until_off(hours{12}), rig.run(kRailOff + kRailSettles);
  EXPECT_EQ(rig.until_off(hours{12}), kRailWaitsMost);
}

TEST(Rail, BeginsAnewOnceItsSensorsWereWellForLong) {
  WithRail rig;
  rig.all_silent();
  rig.until_off(minutes{10});
  for (const Point point : kOnRail) rig.silence(point, false);
  rig.run(kRailOff + kRailSettles + kRailWaits + seconds{30});
  EXPECT_EQ(rig.state.rail.tries, 0);
}

TEST(Rail, IsNotTouchedWhileWaterIsUnderWayOrAProbeIsWet) {
  WithRail rig;
  rig.ask({.kind = RequestKind::flood_start});
  rig.run(seconds{10});
  ASSERT_TRUE(rig.running(Output::pump));
  rig.all_silent();
  while (rig.state.kept.flood_was_running || rig.running(Output::pump)) {
    ASSERT_FALSE(rig.off());
    rig.run(seconds{1});
  }
  rig.contact(Point::leak_floor, Contact::set);
  EXPECT_EQ(rig.until_off(hours{1}), hours{1});
  rig.contact(Point::leak_floor, Contact::clear);
  EXPECT_LE(rig.until_off(minutes{1}), minutes{1});
  EXPECT_TRUE(rig.off());
}

TEST(Rail, NoPumpRunsBeforeItsSensorsAreAwake) {
  WithRail rig;
  rig.all_silent();
  rig.until_off(minutes{10});
  const Event refused = rig.ask({.kind = RequestKind::flood_start});
  EXPECT_FALSE(refused.accepted);
  EXPECT_EQ(refused.because.reason, Reason::rail_cycles);
  rig.run(kRailOff + kRailSettles + seconds{1});
  EXPECT_TRUE(rig.ask({.kind = RequestKind::flood_start}).accepted);
}

// What still spoke is not lost by the cycle that is made for another; a contact least of all, of
// which no old word is held.
TEST(Rail, WhatASensorSaysWithoutSupplyIsNoNews) {
  WithRail rig;
  rig.plan.points[Point::tray_full]->on_rail = true;
  rig.silence(Point::canopy_humidity);
  rig.until_off(minutes{10});
  rig.events.clear();
  rig.silence(Point::tray_full);
  rig.run(kRailOff + kRailSettles - seconds{1});
  EXPECT_EQ(rig.count(EventKind::reading_state), 0);
  EXPECT_TRUE(rig.state.points[Point::tray_full].reading.usable());
  rig.run(seconds{12});  // awake again, and still silent: now it is news
  EXPECT_EQ(rig.count(EventKind::reading_state), 1);
}

TEST(Rail, IsNobodysToHoldOff) {
  WithRail rig;
  const Event refused = rig.ask({.kind = RequestKind::hold,
                                 .output = Output::sensor_rail,
                                 .level = kStopped,
                                 .duration = minutes{1}});
  EXPECT_EQ(refused.because.reason, Reason::hold_sensor_rail);
}

}  // namespace
}  // namespace neap::test
