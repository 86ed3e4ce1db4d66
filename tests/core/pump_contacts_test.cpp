// Goal: with two contacts in series no weld of one of them lets water run, and each weld is found.
// Method: the scan over a bathtub whose pump runs through both, either of which may be welded.
#include "daemon/core/pump_contacts.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <vector>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

class TwoContacts : public ::testing::Test {
 protected:
  TwoContacts() : rig(plan(), 7 * 3600, Stepping::each_second) {
    rig.after_scan = [this](const Rig& r) { follow(r); };
    rig.air = [this](Rig& r) { look(r); };
    rig.run(seconds{10});
  }
  static Plan plan() {
    Plan plan = strawberry_plan();
    plan.programme.stages[0].floods.rule = SlotRule::none;
    plan.outputs[Output::pump_series] = two_position(kStopped);
    plan.points[Point::pump_running] = sampled_every(seconds{1});
    return plan;
  }

  bool closed(Output contact) const {
    return rig.running(contact) || (contact == Output::pump ? first_welded : second_welded);
  }
  bool turns() const { return by_hand || (closed(Output::pump) && closed(Output::pump_series)); }
  // The proof is read each second, edge or not.
  void look(Rig& r) {
    turned_s += turns() ? 1 : 0;
    if (proof_is_silent) return;
    Sample& sample = r.inputs.samples[Point::pump_running];
    ++sample.count;
    sample.taken = r.now;
    sample.fault = Fault::none;
    sample.value = turns() ? 1.0 : 0.0;
    r.values[Point::pump_running] = *sample.value;
  }
  void follow(const Rig& r) { told.push_back(pump_told(r.plan, r.state.last)); }
  // Runs the pump for a minute and stops it as its time is over; the seconds it turned after that.
  int water_after_a_run() {
    const Event& asked = rig.ask(hold(Output::pump, kRunning, minutes{1}));
    EXPECT_TRUE(asked.accepted) << info(asked.because.reason).key;
    rig.run_until([&] { return !pump_runs(rig.plan, rig.state.last); }, minutes{2});
    turned_s = 0;
    rig.run(seconds{20});
    const int after = turned_s;
    rig.run(minutes{5});  // the tray drains
    return after;
  }
  int tried() const {
    return static_cast<int>(std::count(told.begin(), told.end(), PumpTold::tried));
  }

  bool first_welded = false;
  bool second_welded = false;
  bool by_hand = false;
  bool proof_is_silent = false;
  int turned_s = 0;
  std::vector<PumpTold> told;
  Rig rig;
};

TEST_F(TwoContacts, CloseTogetherAndBreakTheCurrentByTurns) {
  std::vector<Output> broke;
  for (int run = 0; run < 4; ++run) {
    EXPECT_EQ(water_after_a_run(), 0);
    broke.push_back(rig.state.pump_proof.tried);
    EXPECT_FALSE(rig.running(Output::pump));
    EXPECT_FALSE(rig.running(Output::pump_series));
  }
  EXPECT_NE(broke[0], broke[1]);
  EXPECT_EQ(broke[0], broke[2]);
  EXPECT_EQ(broke[1], broke[3]);
  EXPECT_GT(tried(), 0);
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::normal);
}

void expect_found(Rig& rig, Output contact) {
  EXPECT_TRUE(rig.latched(Latch::pump_welded));
  EXPECT_EQ(rig.alarm(Alarm::pump_welded), AlarmState::unacknowledged);
  EXPECT_EQ(rig.state.kept.alarms[static_cast<std::size_t>(Alarm::pump_welded)].because,
            because(Reason::contact_welded, contact == Output::pump ? 1 : 2));
  EXPECT_FALSE(rig.ask({.kind = RequestKind::flood_start}).accepted);
}

TEST_F(TwoContacts, AWeldOfEitherIsFoundWithinTwoRunsAndCostsFourSecondsOfWater) {
  for (const Output welded : {Output::pump, Output::pump_series}) {
    (welded == Output::pump ? first_welded : second_welded) = true;
    int runs = 0;
    for (; runs < 2 && !rig.latched(Latch::pump_welded); ++runs)
      EXPECT_LE(water_after_a_run(), 4) << info(welded).name;
    EXPECT_GE(runs, 1);
    expect_found(rig, welded);
    first_welded = second_welded = false;
    rig.run(seconds{20});
    EXPECT_TRUE(rig.latched(Latch::pump_welded)) << "quiet is not repaired";
    EXPECT_TRUE(rig.ask({.kind = RequestKind::reset_latch, .latch = Latch::pump_welded}).accepted);
  }
}

TEST_F(TwoContacts, ALeakOpensBothAtOnceAndTriesNeither) {
  for (const bool first : {true, false}) {
    rig.ask(hold(Output::pump, kRunning, minutes{5}));
    rig.run(seconds{30});
    ASSERT_TRUE(turns());
    (first ? first_welded : second_welded) = true;
    told.clear();
    rig.contact(Point::leak_floor, Contact::set);
    EXPECT_FALSE(turns());
    EXPECT_EQ(tried(), 0);
    rig.contact(Point::leak_floor, Contact::clear);
    first_welded = second_welded = false;
    rig.run(minutes{1});
    rig.ask({.kind = RequestKind::reset_latch, .latch = Latch::leak});
    rig.run(seconds{20});
  }
}

// A leak in the midst of a trial ends it.
TEST_F(TwoContacts, ALeakEndsATrial) {
  first_welded = second_welded = true;
  rig.ask(hold(Output::pump, kRunning, seconds{30}));
  ASSERT_TRUE(rig.run_until([&] { return tried() == 1; }, minutes{1}));
  rig.contact(Point::leak_floor, Contact::set);
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_FALSE(rig.running(Output::pump_series));
}

TEST_F(TwoContacts, APumpThatRunsWithBothOpenIsInHandAndNothingIsLatched) {
  by_hand = true;
  rig.run(seconds{10});
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::unacknowledged);
  by_hand = false;
  rig.run(seconds{30});
  EXPECT_EQ(water_after_a_run(), 0);
  // And where the hand comes while neap runs it.
  rig.ask(hold(Output::pump, kRunning, minutes{1}));
  rig.run(seconds{30});
  by_hand = true;
  rig.run(minutes{1});
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::unacknowledged);
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
  by_hand = false;
  rig.run(seconds{30});
  EXPECT_FALSE(rig.latched(Latch::pump_welded)) << "the switch is back: no weld";
  EXPECT_TRUE(rig.ask({.kind = RequestKind::flood_start}).accepted);
}

TEST_F(TwoContacts, NoPumpStartsBeforeATrialIsOver) {
  first_welded = second_welded = true;
  rig.ask(hold(Output::pump, kRunning, seconds{30}));
  ASSERT_TRUE(rig.run_until([&] { return tried() == 1; }, minutes{1}));
  const Event refused = rig.ask({.kind = RequestKind::flood_start});
  EXPECT_FALSE(refused.accepted);
  EXPECT_EQ(refused.because.reason, Reason::contact_tried);
  rig.ask(hold(Output::pump, kRunning, seconds{30}));
  EXPECT_NE(told.back(), PumpTold::runs);
}

TEST_F(TwoContacts, WithoutTheProofsWordBothOpenTogether) {
  proof_is_silent = true;
  rig.silence(Point::pump_running);
  rig.run(minutes{2});
  told.clear();
  water_after_a_run();
  EXPECT_EQ(tried(), 0);
  EXPECT_EQ(told.back(), PumpTold::stopped);
}

TEST_F(TwoContacts, ATrialBelongsToTheDebitedRun) {
  rig.ask(hold(Output::pump, kRunning, seconds{30}));
  ASSERT_TRUE(rig.run_until([&] { return tried() == 1; }, minutes{1}));
  EXPECT_TRUE(rig.state.kept.budget.run_open);
  rig.run(seconds{10});
  EXPECT_FALSE(rig.state.kept.budget.run_open);
}

TEST_F(TwoContacts, TheSecondOneIsNobodysToHold) {
  const Event refused = rig.ask(hold(Output::pump_series, kRunning, minutes{1}));
  EXPECT_FALSE(refused.accepted);
  EXPECT_EQ(refused.because.reason, Reason::hold_pump_series);
}

TEST(OneContact, NeedsNoSecondCommand) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.run(minutes{1});
  rig.ask(hold(Output::pump, kRunning, minutes{1}));
  EXPECT_EQ(pump_told(rig.plan, rig.state.last), PumpTold::runs);
  EXPECT_FALSE(rig.running(Output::pump_series));
  EXPECT_EQ(rig.reason(Output::pump_series), Reason::not_fitted);
}

}  // namespace
}  // namespace neap::test
