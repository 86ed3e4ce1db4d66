// Goal: a contact's dangerous edge acts in the scan that sees it, its safe edge when it has lasted;
// slosh and bounce neither end a flood nor free one, and are told (hazards W9). Loads that switch
// make no sensor bad (S9). Method: the whole scan on the rig, single points beside it.
#include <gtest/gtest.h>

#include "daemon/core/limits.h"
#include "daemon/core/watch.h"
#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr std::int32_t kMorning = 5 * 3600 + 1800;  // half an hour before lights-on

// Whole seconds of a contact that moves with the water: `wet_s` of every `wave_s`.
void slosh(Rig& rig, Point point, int wave_s, int wet_s, int seconds_long) {
  for (int s = 0; s < seconds_long; ++s) {
    rig.contact(point, s % wave_s < wet_s ? Contact::set : Contact::clear);
    rig.run(seconds{1});
  }
}

// A spring that bounces: `times` edges, `gap` apart.
void bounce(Rig& rig, Point point, int times, Millis gap) {
  for (int i = 0; i < times; ++i) {
    rig.now += gap;
    rig.contact(point, i % 2 == 0 ? Contact::set : Contact::clear);
  }
  rig.now = next_whole_second(rig.now);
}

const Because& told(const Rig& rig, Alarm alarm) {
  return rig.state.kept.alarms[static_cast<std::size_t>(alarm)].because;
}

// --- edges ------------------------------------------------------------------------------------

TEST(ContactEdges, AWetProbeStopsInItsScanAndADryOneIsBelievedAfterTenSeconds) {
  Rig rig{strawberry_plan(), 8 * 3600};
  rig.scan_now();
  rig.contact(Point::leak_floor, Contact::set);
  EXPECT_EQ(rig.state.kernel_inputs.leak, LeakSeen::wet);
  rig.contact(Point::leak_floor, Contact::clear);
  rig.run(seconds{9});
  EXPECT_EQ(rig.state.kernel_inputs.leak, LeakSeen::wet);
  rig.run(seconds{1});
  EXPECT_EQ(rig.state.kernel_inputs.leak, LeakSeen::dry);
}

TEST(ContactEdges, ADryProbeThatGetsWetAgainStartsToCountAnew) {
  Rig rig{strawberry_plan(), 8 * 3600};
  rig.scan_now();
  for (int i = 0; i < 3; ++i) {
    rig.contact(Point::leak_floor, Contact::set);
    rig.contact(Point::leak_floor, Contact::clear);
    rig.run(seconds{8});
  }
  EXPECT_EQ(rig.state.kernel_inputs.leak, LeakSeen::wet);
}

TEST(ContactEdges, OfAReservoirFloatThatBobsTheLowEdgeCounts) {
  Rig rig{strawberry_plan(), 8 * 3600};
  rig.scan_now();
  slosh(rig, Point::reservoir_low, 2, 1, 20);
  rig.contact(Point::reservoir_low, Contact::set);
  EXPECT_EQ(rig.state.kernel_inputs.reservoir, LevelSeen::low);
  rig.run(seconds{10});
  EXPECT_EQ(rig.state.kernel_inputs.reservoir, LevelSeen::enough);
}

TEST(ContactEdges, OneFailedReadingStopsAtOnceAndCostsNoWaitAfterwards) {
  Rig rig{strawberry_plan(), 8 * 3600};
  rig.run(seconds{30});
  rig.silence(Point::leak_floor);
  rig.run(seconds{10});
  EXPECT_EQ(rig.state.kernel_inputs.leak, LeakSeen::unknown);
  rig.silence(Point::leak_floor, false);
  rig.run(seconds{10});
  EXPECT_EQ(rig.state.kernel_inputs.leak, LeakSeen::dry);
}

// --- slosh and bounce on the tray's float -----------------------------------------------------

class Slosh : public ::testing::Test {
 protected:
  Rig rig{strawberry_plan(), kMorning};
  void SetUp() override {
    ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{2}));
  }
  void expect_a_whole_flood() {
    EXPECT_EQ(rig.state.flood.phase, FloodPhase::fill) << "the slosh ended it";
    rig.release(Point::tray_full);
    ASSERT_TRUE(rig.run_until([&] { return !rig.rows().empty(); }, hours{1}));
    EXPECT_EQ(rig.rows().front().outcome, FloodOutcome::complete);
    EXPECT_NEAR(rig.rows().front().litres_out, rig.plan.table.flood_volume.value, 2);
  }
};

TEST_F(Slosh, OfOneHertzInMidFillEndsNoFill) {
  rig.run(seconds{90});
  slosh(rig, Point::tray_full, 2, 1, 20);
  expect_a_whole_flood();
}

TEST_F(Slosh, OfAFifthOfAHertzInMidFillEndsNoFill) {
  rig.run(seconds{90});
  slosh(rig, Point::tray_full, 5, 2, 20);
  expect_a_whole_flood();
}

TEST_F(Slosh, ATrainOfBouncesEndsNoFillEvenWhereTheLevelIsNearlyThere) {
  rig.run(seconds{100});
  for (const int gap : {1, 10, 50}) bounce(rig, Point::tray_full, 11, Millis{gap});
  rig.contact(Point::tray_full, Contact::clear);
  expect_a_whole_flood();
}

TEST_F(Slosh, AFullTrayIsFullAfterThreeSeconds) {
  ASSERT_TRUE(rig.run_until(
      [&] { return rig.state.points[Point::tray_full].contact.said == Contact::set; }, hours{1}));
  EXPECT_EQ(rig.state.flood.phase, FloodPhase::fill);
  rig.run(seconds{4});
  EXPECT_EQ(rig.state.flood.phase, FloodPhase::soak);
  EXPECT_NEAR(static_cast<double>(rig.state.flood.row.fill.count()), 120'000, 1500)
      << "24 L at 0.2 L/s: the row says when the float moved";
}

TEST_F(Slosh, AFloatThatNeverStandsStillDoesNotOutliveTheFillsLimit) {
  slosh(rig, Point::tray_full, 2, 1, 7 * 60);
  EXPECT_FALSE(rig.running(Output::pump)) << "the limit is 6 min";
}

TEST(TrayEmpty, AFloatThatSloshesSaysWetUntilItIsStill) {
  Rig rig{strawberry_plan(), 8 * 3600};
  rig.scan_now();
  slosh(rig, Point::tray_full, 5, 3, 20);
  rig.contact(Point::tray_full, Contact::clear);
  rig.run(seconds{2});
  EXPECT_EQ(float_seen(rig.plan, rig.state, Point::tray_full), FloatSeen::set);
  rig.run(seconds{5});
  EXPECT_EQ(float_seen(rig.plan, rig.state, Point::tray_full), FloatSeen::clear);
}

// --- chatter ----------------------------------------------------------------------------------

TEST(Chatter, MoreThanTenEdgesInAMinuteAreToldByName) {
  Rig rig{strawberry_plan(), 8 * 3600};
  rig.run(seconds{30});
  slosh(rig, Point::reservoir_low, 2, 1, 12);
  EXPECT_EQ(rig.alarm(Alarm::contact_chatters), AlarmState::unacknowledged);
  EXPECT_EQ(told(rig, Alarm::contact_chatters),
            because(Reason::contact_chatters, static_cast<double>(slot(Point::reservoir_low))));
  rig.release(Point::reservoir_low);
  rig.run(minutes{12});
  EXPECT_EQ(rig.alarm(Alarm::contact_chatters), AlarmState::returned);
}

TEST(Chatter, TenEdgesInAMinuteAreNoNews) {
  Rig rig{strawberry_plan(), 8 * 3600};
  rig.run(seconds{30});
  for (int i = 0; i < 5; ++i) {
    for (int edge = 0; edge < 10; ++edge)
      rig.contact(Point::tray_high, edge % 2 == 0 ? Contact::set : Contact::clear);
    rig.run(seconds{61});
  }
  EXPECT_EQ(rig.alarm(Alarm::contact_chatters), AlarmState::normal);
}

// --- loads that switch ------------------------------------------------------------------------

// One point, read each 5 s.
struct Read {
  explicit Read(Point p) : point(p) {}

  Point point;
  PointPlan plan = sampled_every(seconds{5});
  PointWatch watch;
  Sample sample;
  std::optional<Instant> switched;
  Instant now = instant(Millis{4'294'967'000});

  bool says(std::optional<double> value) {
    now += seconds{5};
    ++sample.count;
    sample.value = value;
    sample.fault = value ? Fault::none : Fault::corrupt;
    sample.taken = now;
    return watch_point(info(point), plan, watch, sample, switched, now);
  }
  void switch_before_next(Millis gap) { switched = now + seconds{5} - gap; }
};

TEST(Switching, AContactThatFailsWithin300MsOfASwitchIsReadAgainAndNotLost) {
  Read high{Point::tray_high};
  high.says(0);
  high.switch_before_next(Millis{200});
  EXPECT_TRUE(high.says(std::nullopt)) << "it is counted";
  EXPECT_TRUE(high.watch.reading.usable());
  EXPECT_TRUE(high.says(std::nullopt));
  EXPECT_FALSE(high.watch.reading.usable()) << "the next failure is one";
}

TEST(Switching, ALaterFailureIsAFailure) {
  Read high{Point::tray_high};
  high.says(0);
  high.switch_before_next(Millis{301});
  high.says(std::nullopt);
  EXPECT_FALSE(high.watch.reading.usable());
}

TEST(Switching, AWetProbeIsBelievedHoweverSoonAfterASwitch) {
  Read leak{Point::leak_floor};
  leak.says(0);
  leak.switch_before_next(Millis{10});
  EXPECT_FALSE(leak.says(1));
  EXPECT_EQ(leak.watch.contact.acted, Contact::set);
}

TEST(Switching, WildValuesRightAfterASwitchRaiseNoDoubt) {
  Read canopy{Point::canopy_temperature};
  for (int i = 0; i < 5; ++i) canopy.says(24);
  for (const double wild : {80.0, -19.0, 55.0}) {
    canopy.switch_before_next(Millis{100});
    EXPECT_TRUE(canopy.says(wild));
    EXPECT_EQ(canopy.watch.doubt, 0);
    EXPECT_EQ(*canopy.watch.reading, 24);
  }
}

TEST(Switching, ErrorsThatComeWithThreeSwitchingsAreTold) {
  SwitchEcho echo;
  Instant at = instant(Millis{4'294'967'000});
  for (int i = 0; i < 3; ++i) {
    EXPECT_FALSE(errors_come_with_switching(echo)) << i;
    note_switching(echo, at);
    note_error(echo, at + seconds{1});
    at += minutes{10};
  }
  EXPECT_TRUE(errors_come_with_switching(echo));
  for (int i = 0; i < 4; ++i) note_switching(echo, at += minutes{10});
  EXPECT_FALSE(errors_come_with_switching(echo)) << "quiet switchings take it back";
}

TEST(Switching, AProbeThatIsSimplyDeadIsNoEcho) {
  SwitchEcho echo;
  const Instant begin = instant(Millis{4'294'967'000});
  for (int s = 0; s < 7200; s += 5) {
    if (s % 300 == 0) note_switching(echo, begin + seconds{s - 1});
    note_error(echo, begin + seconds{s});
    ASSERT_FALSE(errors_come_with_switching(echo)) << s;
  }
}

TEST(Switching, TheScanKnowsWhenItSwitches) {
  Rig rig{strawberry_plan(), 8 * 3600};
  rig.run(minutes{2});
  rig.ask({.kind = RequestKind::hold,
           .output = Output::light,
           .level = kStopped,
           .duration = minutes{5}});
  rig.run(seconds{1});
  EXPECT_EQ(rig.state.echo.at, rig.now - seconds{1});
}

}  // namespace
}  // namespace neap::test
