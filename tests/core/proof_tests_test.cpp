// Goal: the programme floods nothing that nobody has seen work, a person can prove it part by part,
// and the core does not take that person's word alone. Method: the scan over a bathtub whose plan
// asks for proof tests.
#include "daemon/core/proof_tests.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <vector>

#include "daemon/core/limits.h"
#include "daemon/words/words.h"
#include "tests/core/rig.h"

namespace neap {
namespace {

using test::Rig;
using test::strawberry_plan;

constexpr std::array kParts{ProofTest::pump, ProofTest::tray_full, ProofTest::tray_high,
                            ProofTest::reservoir_low, ProofTest::leak_floor};

Plan plan_with_tests() {
  Plan plan = strawberry_plan();
  plan.proofs.every = hours{24 * 30};
  std::uint64_t wiring = 0x9e3779b97f4a7c15;
  for (const ProofTest test : kParts)
    plan.proofs.hardware[static_cast<std::size_t>(test)] = ++wiring;
  plan.proofs.hardware[static_cast<std::size_t>(ProofTest::flood)] = wiring;
  return plan;
}

Request operators(RequestKind kind) {
  Request request;
  request.kind = kind;
  return request;
}

Event prove(Rig& rig, ProofTest test) {
  Request request = operators(RequestKind::proof_test);
  request.proof = test;
  return rig.ask(request);
}

void run_pump(Rig& rig) {
  Request request = operators(RequestKind::hold);
  request.output = Output::pump;
  request.level = kRunning;
  request.duration = seconds{5};
  ASSERT_TRUE(rig.ask(request).accepted);
  rig.run(seconds{8});
  ASSERT_FALSE(rig.running(Output::pump));
}

// Wets or lifts it, lets it go, and resets what that latched.
void move_contact(Rig& rig, Point point, Contact away, Contact home) {
  rig.contact(point, away);
  rig.run(seconds{4});
  rig.contact(point, home);
  rig.release(point);
  rig.run(seconds{30});
  for (const LatchInfo& row : kLatches) {
    if (!rig.latched(row.latch)) continue;
    Request reset = operators(RequestKind::reset_latch);
    reset.latch = row.latch;
    ASSERT_TRUE(rig.ask(reset).accepted) << row.name;
  }
}

void prove_parts(Rig& rig) {
  rig.run(seconds{20});
  run_pump(rig);
  ASSERT_TRUE(prove(rig, ProofTest::pump).accepted);
  for (const ProofTest test : kParts) {
    if (test == ProofTest::pump) continue;
    const bool low = test == ProofTest::reservoir_low;
    move_contact(rig, *info(test).point, low ? Contact::clear : Contact::set,
                 low ? Contact::set : Contact::clear);
    ASSERT_TRUE(prove(rig, test).accepted) << info(test).name;
  }
}

bool commission(Rig& rig) {
  prove_parts(rig);
  rig.run(minutes{2});
  if (!rig.ask(operators(RequestKind::flood_start)).accepted) return false;
  return rig.run_until([&] { return !rig.rows().empty(); }, hours{1}) &&
         rig.rows().back().outcome == FloodOutcome::complete;
}

TEST(ProofTests, ThePlannedFloodWaitsAndSaysForWhat) {
  Rig rig(plan_with_tests());  // 05:30; the first flood is planned for 06:30
  rig.run(hours{1} + minutes{5});
  EXPECT_TRUE(rig.rows().empty());
  EXPECT_FALSE(rig.running(Output::pump));
  EXPECT_EQ(rig.state.withheld, because(Reason::output_unproven, slot(Output::pump)));
  EXPECT_EQ(rig.alarm(Alarm::flood_withheld), AlarmState::unacknowledged);
  EXPECT_EQ(rig.alarm(Alarm::unproven), AlarmState::unacknowledged);
  EXPECT_GT(info(Alarm::unproven).priority, Priority::advisory) << "status is not well meanwhile";
}

TEST(ProofTests, ARootsDeadlineStandsBehindAFloodThatWaits) {
  Rig rig(plan_with_tests());
  rig.run(hours{30});
  EXPECT_TRUE(rig.rows().empty());
  EXPECT_NE(rig.alarm(Alarm::flood_missed), AlarmState::normal);
  EXPECT_NE(rig.alarm(Alarm::roots_dry), AlarmState::normal);
}

TEST(ProofTests, APlanThatAsksForNoneFloodsAsBefore) {
  Rig rig(strawberry_plan());
  rig.run(hours{2});
  EXPECT_EQ(rig.rows().size(), 1u);
  EXPECT_EQ(rig.alarm(Alarm::unproven), AlarmState::normal);
}

TEST(ProofTests, APersonsFloodWaitsForThePartsAndIsThenTheLastTest) {
  Rig rig(plan_with_tests(), 3 * 3600 + 7);
  const Event early = rig.ask(operators(RequestKind::flood_start));
  EXPECT_FALSE(early.accepted);
  EXPECT_EQ(early.because.reason, Reason::output_unproven);
  ASSERT_TRUE(commission(rig));
  EXPECT_EQ(unproven(rig.plan.proofs, rig.state.kept.proofs).reason, Reason::none);
  EXPECT_EQ(rig.count(EventKind::proof_test), 6);
  rig.run(hours{4});
  EXPECT_GE(rig.rows().size(), 2u) << "now the programme floods";
  EXPECT_EQ(rig.alarm(Alarm::unproven), AlarmState::returned);
}

TEST(ProofTests, APartThatWasNotSeenToMoveIsNotProven) {
  Rig rig(plan_with_tests(), 3 * 3600);
  rig.run(minutes{1});
  EXPECT_EQ(prove(rig, ProofTest::pump).because.reason, Reason::output_not_seen);
  EXPECT_EQ(prove(rig, ProofTest::leak_floor).because.reason, Reason::point_not_seen);
  EXPECT_EQ(prove(rig, ProofTest::flood).because.reason, Reason::flood_proves_itself);
  EXPECT_EQ(prove(rig, ProofTest::leak_rack).because.reason, Reason::proof_not_wanted);
}

TEST(ProofTests, AProbeThatIsStillWetHasNotComeBack) {
  Rig rig(plan_with_tests(), 3 * 3600);
  rig.run(minutes{1});
  rig.contact(Point::leak_floor, Contact::set);
  rig.run(seconds{10});
  EXPECT_FALSE(prove(rig, ProofTest::leak_floor).accepted);
  rig.contact(Point::leak_floor, Contact::clear);
  EXPECT_TRUE(prove(rig, ProofTest::leak_floor).accepted);
}

struct Changes {
  std::string_view what;
  Point point;
  std::vector<Contact> said;
  bool proves;
};

TEST(ProofTests, AContactMustSayItsWorstAndThenThatAllIsWell) {
  const std::array cases{
      Changes{"wet and dry", Point::leak_floor, {Contact::set, Contact::clear}, true},
      Changes{"a loose wire", Point::leak_floor, {Contact::faulty, Contact::clear}, false},
      Changes{"damp", Point::leak_floor, {Contact::damp, Contact::clear}, false},
      Changes{"its wire came off", Point::leak_floor, {Contact::set, Contact::faulty}, false},
      Changes{"upside down",
              Point::tray_high,
              {Contact::set, Contact::clear, Contact::set, Contact::clear, Contact::set},
              false},
      Changes{"lifted", Point::reservoir_low, {Contact::clear, Contact::set}, true},
      Changes{"left hanging", Point::reservoir_low, {Contact::set, Contact::clear}, false},
  };
  for (const Changes& one : cases) {
    Rig rig(plan_with_tests(), 3 * 3600);
    rig.run(minutes{1});
    for (const Contact said : one.said) {
      rig.contact(one.point, said);
      rig.run(seconds{7});
    }
    const ProofTest test =
        std::find_if(kProofTests.begin(), kProofTests.end(), [&](const ProofTestInfo& row) {
          return row.point == one.point;
        })->test;
    EXPECT_EQ(prove(rig, test).accepted, one.proves) << one.what;
  }
}

TEST(ProofTests, WhatMovedBeforeARestartOrAnotherWiringProvesNothing) {
  Rig rig(plan_with_tests(), 3 * 3600);
  rig.run(minutes{1});
  run_pump(rig);
  move_contact(rig, Point::leak_floor, Contact::set, Contact::clear);
  Plan rewired = rig.plan;
  for (auto& hardware : rewired.proofs.hardware)
    if (hardware) *hardware += 1;
  const Plan before = rig.plan;
  const State as_it_was = rig.state;
  adopt_plan(before, rewired, rig.state, rig.now);
  rig.plan = rewired;
  EXPECT_FALSE(prove(rig, ProofTest::pump).accepted);
  EXPECT_FALSE(prove(rig, ProofTest::leak_floor).accepted);
  rig.state = as_it_was;
  adopt_plan(before, before, rig.state, rig.now);
  EXPECT_TRUE(prove(rig, ProofTest::leak_floor).accepted) << "the same hardware";
  rig.boot(&as_it_was.kept);
  EXPECT_FALSE(prove(rig, ProofTest::pump).accepted);
}

TEST(ProofTests, APumpThatRanForLessThanASecondIsNotProven) {
  Rig rig(plan_with_tests(), 3 * 3600);
  rig.run(minutes{1});
  run_pump(rig);
  PumpRun& run = rig.state.kept.budget.runs[0];
  run.ms = 999;
  rig.state.shadow.budget = rig.state.kept.budget;
  EXPECT_FALSE(prove(rig, ProofTest::pump).accepted);
  run.ms = 1000;
  rig.state.shadow.budget = rig.state.kept.budget;
  EXPECT_TRUE(prove(rig, ProofTest::pump).accepted);
}

TEST(ProofTests, ADrainValveIsToldToCloseForItIsOpenAtRest) {
  Plan plan = plan_with_tests();
  plan.outputs[Output::drain_valve] = test::two_position(kRunning);
  plan.proofs.hardware[static_cast<std::size_t>(ProofTest::drain_valve)] = 77;
  Rig rig(plan, 3 * 3600);
  rig.run(minutes{1});
  const Because why = prove(rig, ProofTest::drain_valve).because;
  EXPECT_EQ(why, because(Reason::valve_not_seen, slot(Output::drain_valve)));
  EXPECT_EQ(words::remedy(why), "hold it closed for a few seconds, let it open, then ask again");
}

TEST(ProofTests, AreNotNamedAsTheCauseOfAFloodThatIsCutShort) {
  Rig rig(plan_with_tests(), 3 * 3600);
  prove_parts(rig);
  rig.run(minutes{2});
  ASSERT_TRUE(rig.ask(operators(RequestKind::flood_start)).accepted);
  rig.run(seconds{20});
  ASSERT_EQ(rig.state.flood.phase, FloodPhase::fill);
  rig.state.last.commands[Output::pump].level = kStopped;  // as it was driven
  rig.scan_now();
  ASSERT_EQ(rig.state.flood.row.outcome, FloodOutcome::tripped);
  EXPECT_EQ(rig.state.flood.last_end.reason, Reason::flood_tripped);
}

TEST(ProofTests, AFloodIsProvenBySensorsOrLeftToWhoeverStoodBy) {
  Plan plan = plan_with_tests();
  const auto judged = [&](bool fill_seen, bool drain_seen) {
    FloodNews news;
    news.fill_seen = fill_seen;
    news.drain_seen = drain_seen;
    return judge_flood(plan, news).reason;
  };
  EXPECT_EQ(judged(true, true), Reason::flood_proven);
  EXPECT_EQ(judged(true, false), Reason::none);
  EXPECT_EQ(judged(false, true), Reason::none);
  plan.points[Point::reservoir_level].reset();
  EXPECT_EQ(judged(true, false), Reason::flood_answered_for);
  EXPECT_EQ(judged(false, false), Reason::none) << "its float did not end the fill";
  plan.points[Point::tray_full].reset();
  EXPECT_EQ(judged(false, false), Reason::flood_answered_for);
}

TEST(ProofTests, AFloodWhoseDrainNoSensorSawSaysSo) {
  Plan plan = plan_with_tests();
  plan.points[Point::reservoir_level].reset();
  Rig rig(plan, 3 * 3600);
  ASSERT_TRUE(commission(rig));
  const auto told = std::find_if(rig.events.begin(), rig.events.end(), [](const Event& e) {
    return e.because.reason == Reason::flood_answered_for;
  });
  ASSERT_NE(told, rig.events.end());
  EXPECT_EQ(told->kind, EventKind::proof_test);
}

TEST(ProofTests, AFloodWhoseLevelWasLostOnTheWayIsNotTheLastTest) {
  Rig rig(plan_with_tests(), 3 * 3600);
  prove_parts(rig);
  rig.run(minutes{2});
  ASSERT_TRUE(rig.ask(operators(RequestKind::flood_start)).accepted);
  ASSERT_TRUE(rig.run_until([&] { return rig.state.flood.phase == FloodPhase::drain; }, hours{1}));
  rig.silence(Point::reservoir_level);
  ASSERT_TRUE(rig.run_until([&] { return !rig.rows().empty(); }, hours{1}));
  ASSERT_EQ(rig.rows().back().outcome, FloodOutcome::complete);
  EXPECT_EQ(unproven(rig.plan.proofs, rig.state.kept.proofs).reason, Reason::flood_unproven);
}

TEST(ProofTests, WhatMovedLongAgoIsNotSeenToMove) {
  Rig rig(plan_with_tests(), 3 * 3600);
  rig.run(minutes{1});
  run_pump(rig);
  move_contact(rig, Point::leak_floor, Contact::set, Contact::clear);
  rig.run(kProofWindow);
  EXPECT_FALSE(prove(rig, ProofTest::pump).accepted);
  EXPECT_FALSE(prove(rig, ProofTest::leak_floor).accepted);
}

TEST(ProofTests, APumpThatStillRunsIsNotProven) {
  Rig rig(plan_with_tests(), 3 * 3600);
  rig.run(minutes{1});
  Request request = operators(RequestKind::hold);
  request.output = Output::pump;
  request.level = kRunning;
  request.duration = seconds{30};
  ASSERT_TRUE(rig.ask(request).accepted);
  rig.run(seconds{5});
  EXPECT_FALSE(prove(rig, ProofTest::pump).accepted);
}

TEST(ProofTests, ProofsSurviveARestartAndNotAnotherWiring) {
  Rig rig(plan_with_tests(), 3 * 3600);
  ASSERT_TRUE(commission(rig));
  const Kept kept = rig.state.kept;
  rig.boot(&kept);
  rig.run(minutes{1});
  EXPECT_EQ(unproven(rig.plan.proofs, rig.state.kept.proofs).reason, Reason::none);
  Plan moved = rig.plan;
  *moved.proofs.hardware[static_cast<std::size_t>(ProofTest::tray_high)] += 1;
  EXPECT_EQ(unproven(moved.proofs, rig.state.kept.proofs),
            because(Reason::point_unproven, slot(Point::tray_high)));
}

TEST(ProofTests, FallDueAgainAfterThirtyDaysAndWithholdNothing) {
  Rig rig(plan_with_tests(), 3 * 3600);
  ASSERT_TRUE(commission(rig));
  rig.wall_shift = hours{24 * 30} - hours{2};
  rig.scan_now();
  EXPECT_EQ(proof_due(rig.plan, rig.state).reason, Reason::none);
  rig.wall_shift = hours{24 * 31};
  rig.scan_now();
  EXPECT_EQ(proof_due(rig.plan, rig.state),
            because(Reason::output_proof_due, slot(Output::pump), 31));
  EXPECT_EQ(rig.alarm(Alarm::proof_due), AlarmState::unacknowledged);
  EXPECT_EQ(unproven(rig.plan.proofs, rig.state.kept.proofs).reason, Reason::none);
}

TEST(ProofTests, PassedBeforeTheTimeOfDayWasKnownAreDatedOnceItIs) {
  Rig rig(plan_with_tests(), 3 * 3600);
  rig.inputs.wall.quality = TimeQuality::unset;
  rig.run(minutes{1});
  run_pump(rig);
  ASSERT_TRUE(prove(rig, ProofTest::pump).accepted);
  EXPECT_FALSE(rig.state.kept.proofs[0].dated);
  rig.inputs.wall.quality = TimeQuality::synced;
  rig.run(minutes{1});
  EXPECT_TRUE(rig.state.kept.proofs[0].dated);
  EXPECT_GT(rig.state.kept.proofs[0].at_unix_ms, 0);
}

}  // namespace
}  // namespace neap
