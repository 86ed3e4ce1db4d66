// What passes from hand to hand when an output does: pump time, latches, what the journal is told;
// and what neap, looking on, must not take for its own.
#include <gtest/gtest.h>

#include "daemon/core/schedule.h"
#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr std::int32_t kMorning = 6 * 3600 + 1800 + 17;

Plan with_others(std::initializer_list<Output> others) {
  Plan plan = strawberry_plan();
  plan.mode = Mode::observe;
  for (const Output output : others) plan.outputs[output]->driven = false;
  return plan;
}

void restart_with(const Plan& after, Rig& rig) {
  const Kept kept = rig.state.kept;
  rig.plan = after;
  rig.boot(&kept);
}

void timer_pumps(Rig& rig, Millis length) {
  rig.other_hand_pumps = true;
  rig.run(length);
  rig.other_hand_pumps = false;
}

std::vector<Event> told(const Rig& rig, EventKind kind) {
  std::vector<Event> found;
  for (const Event& event : rig.events)
    if (event.kind == kind) found.push_back(event);
  return found;
}

Millis pumped_today(const Rig& rig) {
  Millis sum{};
  for (const std::int64_t ms : rig.state.kept.budget.hour_ms) sum += Millis{ms};
  return sum;
}

// --- pump time ----------------------------------------------------------------------------------

TEST(HandOver, WhatATimerPumpedIsSpentForNeap) {
  Rig rig(with_others({Output::pump}), kMorning);
  rig.plan.programme.stages[0].floods.rule = SlotRule::none;
  rig.plan.table.min_gap = minutes{1};
  rig.run(minutes{5});
  timer_pumps(rig, minutes{20});
  rig.run(minutes{15});
  EXPECT_NEAR(static_cast<double>(pumped_today(rig).count()) / 60'000, 20, 0.6);
  Plan ours = rig.plan;
  ours.outputs[Output::pump]->driven = true;
  ours.table.max_on_per_hour = minutes{20};
  restart_with(ours, rig);
  rig.run(minutes{1});
  const Event& refused = rig.ask({.kind = RequestKind::flood_start});
  EXPECT_FALSE(refused.accepted);
  EXPECT_EQ(refused.because.reason, Reason::budget_hour);
  rig.run(minutes{70});
  EXPECT_TRUE(rig.ask({.kind = RequestKind::flood_start}).accepted) << "the hour has passed";
}

TEST(HandOver, AFloodByATimerCountsAmongTheFloodsOfTheHour) {
  Rig rig(with_others({Output::pump}), kMorning);
  rig.plan.programme.stages[0].floods.rule = SlotRule::none;
  rig.plan.table.min_gap = minutes{1};
  rig.plan.table.max_floods_per_hour = 1;
  rig.run(minutes{5});
  timer_pumps(rig, minutes{4});
  rig.run(minutes{20});
  Plan ours = rig.plan;
  ours.outputs[Output::pump]->driven = true;
  restart_with(ours, rig);
  rig.run(minutes{1});
  EXPECT_EQ(rig.ask({.kind = RequestKind::flood_start}).because.reason, Reason::floods_per_hour);
}

TEST(HandOver, TheProofOfThePumpSaysHowLongItRan) {
  Plan plan = with_others({Output::pump});
  plan.points[Point::pump_running] = sampled_every(seconds{1});
  Rig rig(plan, kMorning);
  rig.run(minutes{5});
  rig.contact(Point::pump_running, Contact::set);
  rig.run(seconds{90});
  rig.contact(Point::pump_running, Contact::clear);
  rig.run(minutes{2});
  EXPECT_EQ(pumped_today(rig), seconds{90});
  EXPECT_FALSE(rig.state.kept.budget.run_open);
}

// --- the pump's contact and its switch ----------------------------------------------------------

TEST(HandOver, AWeldIsResetOnlyWhenThePumpWasSeenToStand) {
  Plan plan = with_others({Output::pump});
  plan.points[Point::pump_running] = sampled_every(seconds{1});
  Rig rig(plan, kMorning);
  rig.state.kept.kernel.latched[static_cast<std::size_t>(Latch::pump_welded)] = true;
  const Request reset{.kind = RequestKind::reset_latch, .latch = Latch::pump_welded};
  rig.contact(Point::pump_running, Contact::set);
  EXPECT_EQ(rig.ask(reset).because.reason, Reason::cause_persists);
  rig.silence(Point::pump_running);
  rig.run(seconds{20});
  EXPECT_EQ(rig.ask(reset).because.reason, Reason::cause_persists);
  rig.silence(Point::pump_running, false);
  rig.contact(Point::pump_running, Contact::clear);
  EXPECT_TRUE(rig.ask(reset).accepted);
  rig.contact(Point::pump_running, Contact::set);  // the timer's flood
  rig.run(minutes{1});
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
}

TEST(HandOver, TheSwitchOfAPumpInAnotherHandIsNoFinding) {
  Plan plan = with_others({Output::pump});
  plan.points[Point::pump_running] = sampled_every(seconds{1});
  plan.points[Point::pump_auto] = sampled_every(seconds{1});
  Rig rig(plan, kMorning);
  for (const Contact position : {Contact::clear, Contact::set}) {
    rig.contact(Point::pump_auto, position);
    rig.contact(Point::pump_running, Contact::set);
    rig.run(minutes{2});
    EXPECT_EQ(rig.alarm(Alarm::pump_off_auto), AlarmState::normal);
    EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::normal);
    EXPECT_FALSE(rig.latched(Latch::pump_welded));
  }
}

// --- what neap would have done ------------------------------------------------------------------

TEST(HandOver, ASlotInATrayThatATimerHasJustFloodedWouldHaveWaited) {
  Rig rig(with_others({Output::pump}), 5 * 3600);
  ASSERT_TRUE(rig.run_until([&] { return rig.count(EventKind::would_flood) == 1; }, hours{3}));
  EXPECT_EQ(told(rig, EventKind::would_flood)[0].because.reason, Reason::none);
  const auto half_a_minute_before_the_next = [&] {
    const auto coming = coming_slot(rig.plan, rig.state);
    return coming && civil_seconds_between(rig.state.civil, coming->start) < 30;
  };
  ASSERT_TRUE(rig.run_until(half_a_minute_before_the_next, hours{24}));
  rig.other_hand_pumps = true;
  ASSERT_TRUE(rig.run_until([&] { return rig.count(EventKind::would_flood) == 2; }, minutes{5}));
  EXPECT_EQ(told(rig, EventKind::would_flood)[1].because.reason, Reason::flood_already_running);
}

// --- what the journal is told -------------------------------------------------------------------

TEST(HandOver, AnOutputThatIsGivenAwayOrTakenOverGetsARowOnce) {
  Rig rig(strawberry_plan(), kMorning);
  rig.run(minutes{5});
  ASSERT_TRUE(rig.running(Output::light));
  for (const Reason reason : {Reason::given_away, Reason::taken_over}) {
    restart_with(reason == Reason::given_away ? with_others({Output::light}) : strawberry_plan(),
                 rig);
    rig.events.clear();
    rig.run(seconds{5});
    const auto rows = told(rig, EventKind::actuation);
    ASSERT_FALSE(rows.empty());
    EXPECT_EQ(rows[0].output, Output::light);
    EXPECT_EQ(rows[0].level, kStopped);
    EXPECT_EQ(rows[0].because.reason, reason);
    restart_with(Plan(rig.plan), rig);
    rig.events.clear();
    rig.run(seconds{5});
    for (const Event& event : told(rig, EventKind::actuation))
      EXPECT_NE(event.because.reason, reason) << "nothing has changed hands since";
  }
}

TEST(HandOver, WhatTheLawLearntOfOtherDevicesIsForgotten) {
  Rig rig(strawberry_plan(), kMorning);
  rig.run(hours{1});
  const Kept before = rig.state.kept;
  ASSERT_NE(before.law.law, 0u);
  rig.boot(&before);
  EXPECT_EQ(rig.state.kept.law.numbers, before.law.numbers);
  for (const Output output : {Output::light, Output::dehumidifier}) {
    rig.plan = with_others({output});
    rig.boot(&before);
    EXPECT_EQ(rig.state.kept.law.numbers, LawMemory{}.numbers) << info(output).name;
  }
}

// --- the light ----------------------------------------------------------------------------------

// A timer that lights the tent in the dark period is a matter between the timer and its owner.
TEST(HandOver, ALightInAnotherHandIsNotDoubted) {
  for (const bool ours : {true, false}) {
    Plan plan = ours ? strawberry_plan() : with_others({Output::light});
    plan.climate.law = LawChoice::rule;
    plan.points[Point::light_level] = sampled_every(seconds{10});
    Rig rig(plan, 23 * 3600);
    rig.values[Point::light_level] = 20'000;
    rig.run(hours{1});
    EXPECT_EQ(rig.alarm(Alarm::light_stuck_on) != AlarmState::normal, ours);
  }
}

TEST(HandOver, AFanInAnotherHandMayStand) {
  Plan plan = with_others({Output::exhaust_fan});
  plan.points[Point::exhaust_fan_speed] = sampled_every(seconds{10});
  Rig rig(plan, kMorning);
  rig.values[Point::exhaust_fan_speed] = 0;
  rig.run(minutes{10});
  EXPECT_EQ(rig.alarm(Alarm::fan_stands), AlarmState::normal);
}

}  // namespace
}  // namespace neap::test
