// Stories of a hand-off-auto switch at the pump with a contact of its own (point pump.auto): a hand
// is told apart from a weld by what the switch says, not by guessing.
#include <gtest/gtest.h>

#include "daemon/core/budget.h"
#include "daemon/core/driven.h"
#include "tests/core/rig.h"

namespace neap::test {
namespace {

Request flood() { return {.kind = RequestKind::flood_start}; }
Request hold_pump(Millis span) {
  return {.kind = RequestKind::hold, .output = Output::pump, .level = kRunning, .duration = span};
}

// A pump behind its relay (or two in series) and its switch. Proof and switch are read each second.
struct WithSwitch : Rig {
  enum class Position { automatic, off, hand };

  explicit WithSwitch(bool two_contacts = false)
      : Rig(switched_plan(two_contacts), 7 * 3600, Stepping::each_second) {
    air = [this](Rig&) { look(); };
    run(seconds{10});
  }
  static Plan switched_plan(bool two_contacts) {
    Plan plan = strawberry_plan();
    plan.programme.stages[0].floods.rule = SlotRule::none;
    if (two_contacts) plan.outputs[Output::pump_series] = two_position(kStopped);
    plan.points[Point::pump_running] = sampled_every(seconds{1});
    plan.points[Point::pump_auto] = sampled_every(seconds{1});
    return plan;
  }
  bool relay_closed() const {
    const bool first = running(Output::pump) || welded;
    const bool second =
        !plan.outputs[Output::pump_series] || running(Output::pump_series) || welded;
    return first && second;
  }
  bool turns() const {
    return position == Position::hand || (position == Position::automatic && relay_closed());
  }
  void say(Point point, bool set) {
    Sample& sample = inputs.samples[point];
    ++sample.count;
    sample.taken = now;
    sample.fault = Fault::none;
    sample.value = set ? 1.0 : 0.0;
    values[point] = *sample.value;
  }
  void look() {
    say(Point::pump_running, turns());
    silence(Point::pump_auto, switch_is_deaf);  // the rig's own reading of it
    if (!switch_is_deaf) return say(Point::pump_auto, position == Position::automatic);
    Sample& sample = inputs.samples[Point::pump_auto];
    ++sample.count;
    sample.taken = now;
    sample.value.reset();
    sample.fault = Fault::no_answer;
  }
  Millis pumped() const {
    Millis sum{};
    for (const std::int64_t ms : state.kept.budget.hour_ms) sum += Millis{ms};
    return sum;
  }

  Position position = Position::automatic;
  bool welded = false;
  bool switch_is_deaf = false;
};

TEST(PumpSwitch, InHandIsToldAsMediumAndBlamesNoContact) {
  WithSwitch rig;
  rig.position = WithSwitch::Position::hand;
  rig.run(seconds{20});
  EXPECT_EQ(rig.alarm(Alarm::pump_off_auto), AlarmState::unacknowledged);
  EXPECT_EQ(info(Alarm::pump_off_auto).priority, Priority::medium);
  EXPECT_EQ(rig.state.kept.alarms[static_cast<std::size_t>(Alarm::pump_off_auto)].because.reason,
            Reason::pump_by_hand);
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::normal);
}

// The guess of old: a proof that has lasted since the last run speaks of a weld. The switch knows
// better: somebody turned it to hand before the flood had ended.
TEST(PumpSwitch, AHandThatTakesOverInMidFloodIsNoWeldEither) {
  WithSwitch rig;
  ASSERT_TRUE(rig.ask(hold_pump(minutes{1})).accepted);
  rig.run(seconds{30});
  ASSERT_TRUE(rig.turns());
  rig.position = WithSwitch::Position::hand;
  rig.run(seconds{20});
  EXPECT_FALSE(rig.running(Output::pump)) << "what neap does not drive it does not ask for";
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
  EXPECT_EQ(rig.alarm(Alarm::pump_off_auto), AlarmState::unacknowledged);
}

TEST(PumpSwitch, SwitchedOffItWithholdsFloodsAndSaysWhy) {
  WithSwitch rig;
  rig.position = WithSwitch::Position::off;
  rig.run(seconds{10});
  const Event refused = rig.ask(flood());
  EXPECT_FALSE(refused.accepted);
  EXPECT_EQ(refused.because.reason, Reason::pump_off_auto);
  EXPECT_EQ(rig.alarm(Alarm::pump_off_auto), AlarmState::unacknowledged);
  rig.position = WithSwitch::Position::automatic;
  rig.run(seconds{10});
  EXPECT_TRUE(rig.ask(flood()).accepted);
}

TEST(PumpSwitch, InAutomaticAPumpThatRunsUntoldIsWeldedThoughItWasSeenToStand) {
  WithSwitch rig;
  rig.run(minutes{1});
  rig.welded = true;
  rig.run(seconds{10});
  EXPECT_TRUE(rig.latched(Latch::pump_welded));
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::normal);
  EXPECT_EQ(rig.alarm(Alarm::pump_off_auto), AlarmState::normal);
}

// Without a switch's contact this looks like a hand (D-022), and nothing latches.
TEST(PumpSwitch, TwoContactsWeldedAtOnceAreLatchedWhereTheSwitchSaysAutomatic) {
  WithSwitch rig(true);
  ASSERT_TRUE(rig.ask(hold_pump(minutes{1})).accepted);
  rig.run(seconds{20});
  rig.welded = true;
  rig.contact(Point::leak_floor, Contact::set);  // a trip opens both at once
  rig.contact(Point::leak_floor, Contact::set);
  rig.run(seconds{10});
  ASSERT_FALSE(rig.running(Output::pump));
  EXPECT_TRUE(rig.latched(Latch::pump_welded));
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::normal);
}

// The position's contact opens before the hand's closes, and the two may be read seconds apart.
TEST(PumpSwitch, AProofThatIsReadLongBeforeTheSwitchLatchesNothing) {
  WithSwitch rig;
  rig.run(minutes{1});
  rig.position = WithSwitch::Position::hand;
  rig.silence(Point::pump_auto);
  rig.air = [&rig](Rig&) { rig.say(Point::pump_running, true); };
  rig.run(seconds{9});
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
  rig.air = [&rig](Rig&) { rig.look(); };
  rig.run(seconds{20});
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
  EXPECT_EQ(rig.alarm(Alarm::pump_off_auto), AlarmState::unacknowledged);
}

TEST(PumpSwitch, BackInAutomaticThePumpGetsItsTimeToRunDown) {
  WithSwitch rig;
  rig.position = WithSwitch::Position::hand;
  rig.run(seconds{30});
  rig.position = WithSwitch::Position::automatic;
  rig.air = [&rig](Rig&) {  // it turns on for two seconds
    rig.say(Point::pump_running, true);
    rig.say(Point::pump_auto, true);
  };
  rig.run(seconds{2});
  rig.air = [&rig](Rig&) { rig.look(); };
  rig.run(seconds{20});
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
  EXPECT_TRUE(rig.ask(flood()).accepted);
}

TEST(PumpSwitch, WhatAHandPumpsCountsAgainstTheBudgetAndIsNoFlood) {
  WithSwitch rig;
  const Millis before = rig.pumped();
  rig.position = WithSwitch::Position::hand;
  rig.run(seconds{95});
  rig.position = WithSwitch::Position::off;
  rig.run(seconds{10});
  EXPECT_NEAR(static_cast<double>((rig.pumped() - before).count()), 92'000, 2'000)
      << "less the 3 s in which the proof may lag";
  EXPECT_FALSE(rig.state.kept.budget.run_open);
  EXPECT_TRUE(rig.rows().empty());
}

// A tray full of water leaves the reservoir while neap's own pump command is to stand.
TEST(PumpSwitch, LeftInHandForLongerThanAnyFloodItIsHighNews) {
  WithSwitch rig;
  rig.position = WithSwitch::Position::hand;
  rig.run(minutes{24});
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::normal);
  rig.run(minutes{2});
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::unacknowledged);
  EXPECT_EQ(info(Alarm::pump_in_hand).priority, Priority::high);
  rig.position = WithSwitch::Position::automatic;
  rig.run(minutes{1});
  EXPECT_NE(rig.alarm(Alarm::pump_in_hand), AlarmState::unacknowledged);
}

TEST(PumpSwitch, WhatAHandPumpsIsSavedEachMinuteAndAtItsEnd) {
  WithSwitch rig;
  rig.position = WithSwitch::Position::hand;
  rig.run(minutes{3});
  int saves = 0;
  rig.after_scan = [&](const Rig& r) { saves += r.out.keep ? 1 : 0; };
  rig.run(minutes{10});
  EXPECT_GE(saves, 10);
  EXPECT_LE(saves, 14);
  rig.position = WithSwitch::Position::off;
  saves = 0;
  rig.run(seconds{20});
  EXPECT_GE(saves, 1);
  saves = 0;
  rig.run(minutes{10});
  EXPECT_EQ(saves, 0);
}

TEST(PumpSwitch, ANightInHandIsOfTheHoursInWhichItPumped) {
  WithSwitch rig;
  rig.position = WithSwitch::Position::hand;
  rig.run(hours{10});
  rig.position = WithSwitch::Position::off;
  rig.run(hours{16});
  PumpBudget budget = rig.state.kept.budget;
  EXPECT_GT(view_budget(rig.plan.table, budget, rig.now).day, hours{7})
      << "26 h after it began, 8 h of it lie in the day";
}

TEST(PumpSwitch, WhatAHandPumpsIntoTheTrayIsNoLostWater) {
  WithSwitch rig;
  rig.run(minutes{20});
  rig.position = WithSwitch::Position::hand;
  rig.other_hand_pumps = true;
  rig.run(minutes{2});
  rig.position = WithSwitch::Position::automatic;
  rig.other_hand_pumps = false;
  rig.run(minutes{20});
  EXPECT_FALSE(rig.latched(Latch::lost_water));
}

// In its positions off and hand the switch proves nothing of the contact behind it.
TEST(PumpSwitch, AWeldIsNotResetFromAnotherPositionThanAutomatic) {
  WithSwitch rig;
  rig.welded = true;
  rig.run(seconds{20});
  ASSERT_TRUE(rig.latched(Latch::pump_welded));
  const Request reset{.kind = RequestKind::reset_latch, .latch = Latch::pump_welded};
  rig.position = WithSwitch::Position::off;
  rig.run(seconds{20});
  EXPECT_EQ(rig.alarm(Alarm::pump_off_auto), AlarmState::unacknowledged);
  EXPECT_EQ(rig.ask(reset).because.reason, Reason::cause_persists);
  rig.welded = false;
  rig.position = WithSwitch::Position::automatic;
  rig.run(seconds{20});
  EXPECT_TRUE(rig.ask(reset).accepted);
}

TEST(PumpSwitch, AHandThatFillsTheTrayWatersTheRoots) {
  WithSwitch rig;
  rig.run(hours{2});
  const std::int64_t since = rig.state.kept.roots.since_tick;
  rig.position = WithSwitch::Position::hand;
  rig.run(seconds{20});
  rig.contact(Point::tray_full, Contact::set);
  rig.run(seconds{10});
  EXPECT_GT(rig.state.kept.roots.since_tick, since);
}

TEST(PumpSwitch, ASwitchThatCannotBeReadWithholdsAndAWeldIsStillSeen) {
  WithSwitch rig;
  rig.switch_is_deaf = true;
  rig.run(seconds{10});
  EXPECT_EQ(rig.ask(flood()).because.reason, Reason::pump_off_auto);
  rig.switch_is_deaf = false;
  rig.run(seconds{10});
  ASSERT_TRUE(rig.ask(hold_pump(minutes{1})).accepted);
  rig.run(seconds{30});
  rig.welded = true;
  rig.switch_is_deaf = true;
  rig.run(seconds{20});
  EXPECT_TRUE(rig.latched(Latch::pump_welded)) << "it has not stopped since it was driven";
}

}  // namespace
}  // namespace neap::test
