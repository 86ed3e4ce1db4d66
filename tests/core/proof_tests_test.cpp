// Goal: the programme floods nothing that nobody has seen work, a person can prove it part by part,
// and the core does not take that person's word alone. Method: the scan over a bathtub whose plan
// asks for proof tests.
#include "daemon/core/proof_tests.h"

#include <gtest/gtest.h>

#include "daemon/core/limits.h"
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
