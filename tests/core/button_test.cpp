// Stories of the button at the tent, and of the lamp and the buzzer that answer it.
#include "daemon/core/button.h"

#include <gtest/gtest.h>

#include "daemon/core/fan_speed.h"
#include "daemon/core/scan.h"
#include "tests/core/rig.h"

namespace neap::test {
namespace {

Plan with_button() {
  Plan plan = strawberry_plan();
  plan.programme.stages[0].floods.rule = SlotRule::none;
  plan.points[Point::button_pressed] = sampled_every(seconds{1});
  plan.outputs[Output::lamp] = two_position(kStopped);
  plan.outputs[Output::buzzer] = two_position(kStopped);
  return plan;
}

struct AtTheTent : Rig {
  explicit AtTheTent(Stepping stepping = Stepping::next_wake)
      : Rig(with_button(), 13 * 3600, stepping) {
    air = [](Rig& rig) {  // the button is read each second
      Sample& said = rig.inputs.samples[Point::button_pressed];
      ++said.count;
      said.taken = rig.now;
    };
    run(seconds{20});
  }
  void down() { contact(Point::button_pressed, Contact::set); }
  void up() { contact(Point::button_pressed, Contact::clear); }
  void press(Millis span) {
    down();
    run(span);
    up();
  }
  // What the button was answered, newest last.
  std::vector<Event> answers() const {
    std::vector<Event> found;
    for (const Event& event : events)
      if (event.kind == EventKind::request && event.request_id == kButtonRequest)
        found.push_back(event);
    return found;
  }
  bool held_off() const {
    const Hold& hold = state.holds[Output::pump];
    return hold.active && hold.level == kStopped;
  }
  Blink blink(Output output) const { return state.last.commands[output].blink; }
  bool shows(Blink expected) const {
    return running(Output::lamp) && blink(Output::lamp) == expected;
  }
  void wet_floor() {
    contact(Point::leak_floor, Contact::set);
    contact(Point::leak_floor, Contact::set);
    run(seconds{3});
  }
};

TEST(Button, AShortPressHoldsFloodsForTwentyMinutes) {
  AtTheTent rig;
  EXPECT_TRUE(rig.shows(Blink::steady));
  rig.press(seconds{1});
  rig.run(seconds{2});
  EXPECT_TRUE(rig.held_off());
  EXPECT_TRUE(rig.shows(Blink::slow));
  EXPECT_EQ(rig.ask({.kind = RequestKind::flood_start}).because.reason, Reason::operator_hold);
  rig.run(minutes{20});
  EXPECT_FALSE(rig.held_off());
  EXPECT_TRUE(rig.shows(Blink::steady));
}

TEST(Button, PressedAgainItHoldsFloodsForTwentyMinutesFromThenOn) {
  AtTheTent rig;
  rig.press(seconds{1});
  rig.run(minutes{15});
  rig.press(seconds{1});  // by somebody who is not sure that it was heard
  rig.run(minutes{15});
  EXPECT_TRUE(rig.held_off());
}

TEST(Button, HeldForThreeSecondsItFloodsOnceWhenItIsLetGo) {
  AtTheTent rig;
  rig.down();
  rig.run(seconds{5});
  EXPECT_EQ(rig.state.flood.phase, FloodPhase::idle);
  EXPECT_FALSE(rig.running(Output::lamp)) << "dark: let go";
  rig.up();
  EXPECT_EQ(rig.state.flood.phase, FloodPhase::fill);
  ASSERT_EQ(rig.answers().size(), 1u);
  EXPECT_TRUE(rig.answers().back().accepted);
  rig.run(hours{3});
  EXPECT_EQ(rig.rows().size(), 1u);
}

TEST(Button, BetweenShortAndLongItMeansNothing) {
  AtTheTent rig;
  rig.down();
  rig.now += Millis{2600};  // edges come between whole seconds
  rig.up();
  EXPECT_TRUE(rig.answers().empty());
  EXPECT_FALSE(rig.held_off());
}

TEST(Button, AFloodThatIsRefusedSaysWhyAndIsSeenAndHeard) {
  AtTheTent rig;
  rig.wet_floor();
  rig.ask({.kind = RequestKind::acknowledge, .all = true});
  rig.run(seconds{3});
  ASSERT_FALSE(rig.running(Output::buzzer));
  rig.press(seconds{4});
  ASSERT_EQ(rig.answers().size(), 1u);
  EXPECT_FALSE(rig.answers().back().accepted);
  EXPECT_EQ(rig.answers().back().because.reason, Reason::leak_wet);
  EXPECT_EQ(rig.state.flood.phase, FloodPhase::idle);
  EXPECT_TRUE(rig.shows(Blink::fast));
  EXPECT_EQ(rig.blink(Output::buzzer), Blink::fast);
  rig.run(seconds{8});
  EXPECT_FALSE(rig.running(Output::buzzer));
}

TEST(Button, AShortPressAcknowledgesWhatCallsForAPersonInstead) {
  AtTheTent rig;
  rig.wet_floor();
  ASSERT_EQ(rig.alarm(Alarm::leak), AlarmState::unacknowledged);
  EXPECT_TRUE(rig.shows(Blink::fast));
  EXPECT_EQ(rig.blink(Output::buzzer), Blink::tone);
  rig.press(seconds{1});
  rig.run(seconds{2});
  EXPECT_EQ(rig.alarm(Alarm::leak), AlarmState::acknowledged);
  EXPECT_FALSE(rig.running(Output::buzzer));
  EXPECT_TRUE(rig.shows(Blink::fast)) << "the latch stands";
  EXPECT_FALSE(rig.held_off());
  EXPECT_TRUE(rig.latched(Latch::leak)) << "no button clears a latch";
}

TEST(Button, AShortPressStopsWaterThatMovesWhateverElseWaits) {
  AtTheTent rig;
  rig.plan.points[Point::exhaust_fan_speed] = sampled_every(seconds{10});
  rig.values[Point::exhaust_fan_speed] = 0;
  rig.run(minutes{1});
  ASSERT_EQ(rig.alarm(Alarm::fan_stands), AlarmState::unacknowledged);
  ASSERT_TRUE(rig.ask({.kind = RequestKind::flood_start}).accepted);
  rig.run(seconds{20});
  ASSERT_TRUE(rig.running(Output::pump));
  rig.press(seconds{1});
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_TRUE(rig.held_off());
}

TEST(Button, AStuckOneIsAnAlarmAndDoesNothingEvenWhenItComesFree) {
  AtTheTent rig;
  rig.down();
  rig.run(seconds{32});
  EXPECT_EQ(rig.alarm(Alarm::button_stuck), AlarmState::unacknowledged);
  EXPECT_TRUE(rig.shows(Blink::steady));
  rig.run(hours{1});
  rig.up();
  rig.run(seconds{5});
  EXPECT_TRUE(rig.answers().empty());
  EXPECT_EQ(rig.alarm(Alarm::button_stuck), AlarmState::returned);
  rig.press(seconds{1});
  EXPECT_TRUE(rig.held_off()) << "and works again";
}

TEST(Button, OneThatIsPressedAtTheStartSaysNothing) {
  AtTheTent rig;
  const Kept kept = rig.state.kept;
  rig.down();
  rig.boot(&kept);
  rig.run(seconds{5});
  rig.up();
  rig.run(seconds{5});
  EXPECT_TRUE(rig.answers().empty());
}

// The button as readings have it: what is missing between two of them nobody knows.
struct Readings {
  Plan plan = with_button();
  State state;
  Press said(bool down, Instant at) {
    PointWatch& watch = state.points[Point::button_pressed];
    const Contact now_says = down ? Contact::set : Contact::clear;
    if (!watch.contact.any || watch.contact.said != now_says) watch.contact.since = at;
    watch.contact.any = true;
    watch.contact.said = watch.contact.acted = now_says;
    watch.reading = Reading<double>::of(static_cast<double>(now_says), Quality::good, at);
    return follow_button(plan, state, at);
  }
};
constexpr Instant kNoon = instant(Millis{4'294'967'000});

TEST(Button, AShortPressWhoseEndIsReadLateIsNoFlood) {
  Readings button;
  button.said(false, kNoon);
  button.said(true, kNoon + seconds{1});
  button.said(true, kNoon + seconds{2});
  EXPECT_EQ(button.said(false, kNoon + seconds{21}), Press::none);
}

TEST(Button, EachLengthOfAPressMeansOneThing) {
  struct Row {
    int ms;
    Press means;
  };
  for (const Row& row : {Row{120, Press::brief}, Row{1999, Press::brief}, Row{2000, Press::none},
                         Row{2999, Press::none}, Row{3000, Press::held}, Row{29'999, Press::held},
                         Row{30'000, Press::none}, Row{3'600'000, Press::none}}) {
    Readings button;
    button.said(false, kNoon);
    Press early = Press::none;
    for (int at = 0; at < row.ms; at += 1000)
      if (button.said(true, kNoon + Millis{at}) != Press::none) early = Press::held;
    EXPECT_EQ(early, Press::none) << "nothing before it is let go";
    EXPECT_EQ(button.said(false, kNoon + Millis{row.ms}), row.means) << row.ms << " ms";
    EXPECT_EQ(button.said(false, kNoon + Millis{row.ms + 1000}), Press::none) << "told once";
  }
}

// Closed for a second, open for a second, or half as long: whatever a bad contact adds up to.
TEST(Button, ABouncingOneNeverFloods) {
  for (const int half_ms : {20, 400, 1000, 1900}) {
    Readings button;
    for (int at = 0; at < 120'000; at += half_ms)
      EXPECT_NE(button.said(at / half_ms % 2 == 1, kNoon + Millis{at}), Press::held) << half_ms;
  }
}

TEST(Button, NoLatchNoServiceAndNoSpentBudgetIsFloodedAway) {
  {
    AtTheTent rig;
    rig.wet_floor();
    rig.contact(Point::leak_floor, Contact::clear);
    rig.run(minutes{10});
    ASSERT_TRUE(rig.latched(Latch::leak));
    rig.press(seconds{4});
    EXPECT_EQ(rig.answers().back().because.reason, Reason::leak_latched);
    EXPECT_FALSE(rig.running(Output::pump));
  }
  {
    AtTheTent rig;
    rig.ask({.kind = RequestKind::service_begin, .duration = minutes{30}});
    rig.press(seconds{4});
    EXPECT_EQ(rig.answers().back().because.reason, Reason::service_holds);
    EXPECT_FALSE(rig.running(Output::pump));
  }
  {
    AtTheTent rig;
    rig.state.kept.budget.hour_ms.fill(rig.plan.table.max_on_per_day.count());
    rig.state.shadow.made = false;
    rig.press(seconds{4});
    EXPECT_EQ(rig.answers().back().because.reason, Reason::budget_day);
    EXPECT_FALSE(rig.running(Output::pump));
  }
}

TEST(Button, InAnotherHandItAcknowledgesAndNeitherFloodsNorHolds) {
  AtTheTent rig;
  rig.plan.mode = Mode::observe;
  rig.plan.outputs[Output::pump]->driven = false;
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  rig.run(seconds{20});
  rig.events.clear();
  rig.press(seconds{4});
  ASSERT_EQ(rig.answers().size(), 1u);
  EXPECT_EQ(rig.answers().back().because.reason, Reason::observing);
  rig.press(seconds{1});
  EXPECT_EQ(rig.answers().back().because.reason, Reason::observing);
  EXPECT_FALSE(rig.held_off());
  rig.wet_floor();
  rig.other_hand_pumps = true;  // water moves, and is not neap's to stop
  rig.run(seconds{20});
  rig.press(seconds{1});
  EXPECT_EQ(rig.alarm(Alarm::leak), AlarmState::acknowledged);
}

TEST(Lamp, InAnotherHandStaysDarkAndCostsNoScans) {
  AtTheTent rig;
  rig.plan.outputs[Output::lamp]->driven = rig.plan.outputs[Output::buzzer]->driven = false;
  rig.run(minutes{2});
  EXPECT_FALSE(rig.running(Output::lamp));
  const std::int64_t before = rig.scans;
  rig.run(minutes{10});
  EXPECT_LT(rig.scans - before, 100);
}

TEST(Button, AShortPressNeverShortensAHold) {
  AtTheTent rig;
  rig.ask(
      {.kind = RequestKind::hold, .output = Output::pump, .level = kStopped, .duration = hours{3}});
  rig.press(seconds{1});
  EXPECT_TRUE(rig.answers().back().accepted);
  rig.run(hours{2});
  EXPECT_TRUE(rig.held_off());
}

TEST(Button, AWireThatComesAndGoesSaysNothing) {
  AtTheTent rig;
  rig.down();
  rig.run(seconds{4});
  rig.contact(Point::button_pressed, Contact::faulty);
  rig.run(seconds{2});
  rig.up();
  EXPECT_TRUE(rig.answers().empty());
  for (int i = 0; i < 12; ++i) rig.press(seconds{1});  // chatters
  EXPECT_LT(rig.answers().size(), 6u);
}

TEST(Buzzer, WaterIsHeardInQuietHoursAndAnythingElseWaits) {
  AtTheTent rig;
  rig.plan.programme.quiet = {true, 0, 24 * 3600 - 1};
  rig.plan.points[Point::exhaust_fan_speed] = sampled_every(seconds{10});
  rig.values[Point::exhaust_fan_speed] = 0;
  rig.run(minutes{1});
  ASSERT_EQ(rig.alarm(Alarm::fan_stands), AlarmState::unacknowledged);
  EXPECT_FALSE(rig.running(Output::buzzer));
  rig.plan.programme.quiet.fitted = false;
  rig.run(minutes{1});
  EXPECT_TRUE(rig.running(Output::buzzer));
  rig.plan.programme.quiet.fitted = true;
  rig.run(minutes{1});
  rig.wet_floor();
  EXPECT_TRUE(rig.running(Output::buzzer));
  EXPECT_EQ(rig.state.last.commands[Output::buzzer].because.args[0],
            static_cast<double>(Alarm::leak));
}

TEST(Lamp, ServiceAndSafeModeShow) {
  AtTheTent rig;
  ASSERT_TRUE(rig.ask({.kind = RequestKind::service_begin, .duration = minutes{30}}).accepted);
  rig.run(seconds{2});
  EXPECT_TRUE(rig.shows(Blink::slow));
  rig.inputs.safe_mode = true;
  rig.run(seconds{12});
  EXPECT_TRUE(rig.shows(Blink::fast));
}

// Alarms come after the demands of a scan: the lamp follows a second later, also where the core
// would sleep for ten.
TEST(Lamp, ShowsALatchWithinTwoSeconds) {
  AtTheTent rig;
  rig.run(minutes{5});
  rig.contact(Point::leak_floor, Contact::set);
  rig.contact(Point::leak_floor, Contact::set);
  EXPECT_TRUE(rig.run_until([&] { return rig.shows(Blink::fast); }, seconds{2}));
}

TEST(FanSpeed, AFanThatIsDrivenAndStandsIsToldInSecondsAndTheLawGoesOnWithoutIt) {
  AtTheTent rig;
  rig.plan.points[Point::exhaust_fan_speed] = sampled_every(seconds{10});
  rig.values[Point::exhaust_fan_speed] = 1450;
  rig.values[Point::canopy_humidity] = 80;
  rig.run(minutes{10});
  EXPECT_EQ(rig.alarm(Alarm::fan_stands), AlarmState::normal);
  ASSERT_TRUE(rig.running(Output::exhaust_fan));
  rig.values[Point::exhaust_fan_speed] = 0;
  rig.run(seconds{12});
  EXPECT_EQ(rig.alarm(Alarm::fan_stands), AlarmState::unacknowledged);
  EXPECT_EQ(rig.level(Output::exhaust_fan), kRunning) << "asked for its most: its repair shows";
  rig.values[Point::exhaust_fan_speed] = 1450;
  rig.run(seconds{25});
  EXPECT_EQ(rig.alarm(Alarm::fan_stands), AlarmState::returned);
}

TEST(FanSpeed, AFanThatHasJustBeenStartedIsGivenItsTime) {
  AtTheTent rig;
  rig.plan.points[Point::exhaust_fan_speed] = sampled_every(seconds{1});
  rig.state.fan_asked_since = rig.now;
  rig.values[Point::exhaust_fan_speed] = 40;
  EXPECT_FALSE(fan_stands(rig.state));
}

}  // namespace
}  // namespace neap::test
