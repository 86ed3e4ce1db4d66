// The scan stands on what is driven: stories of outputs that did not do as they were granted, and
// of pumps that do not do as they are driven.
#include "daemon/core/driven.h"

#include <gtest/gtest.h>

#include "daemon/core/budget.h"
#include "tests/core/rig.h"

namespace neap::test {
namespace {

// A gate that does at once, and proves, what each scan grants.
void obey(Rig& rig) {
  rig.after_scan = [&rig](const Rig&) {
    for (const OutputInfo& row : kOutputs)
      if (rig.plan.outputs[row.output])
        rig.inputs.driven[row.output] = {rig.level(row.output), true};
  };
}

int told(const Rig& rig, Reason reason) {
  int n = 0;
  for (const Event& event : rig.events) n += event.because.reason == reason ? 1 : 0;
  return n;
}

// A scan was late: the gate let the lease lapse. A compressor that is started again at once would
// start against its own pressure.
TEST(Driven, ALapsedLeaseStopsACompressorForItsWholeDwell) {
  Rig rig{strawberry_plan(), 7 * 3600};
  obey(rig);
  rig.plan.outputs[Output::dehumidifier]->min_off = seconds{300};
  rig.run(minutes{10});
  rig.ask(hold(Output::dehumidifier, kRunning, hours{1}));
  rig.run(minutes{10});
  ASSERT_TRUE(rig.running(Output::dehumidifier));
  rig.inputs.driven[Output::dehumidifier] = Driven{kStopped, true};
  rig.scan_now();
  EXPECT_FALSE(rig.running(Output::dehumidifier));
  EXPECT_EQ(rig.reason(Output::dehumidifier), Reason::min_off_dwell);
  EXPECT_EQ(told(rig, Reason::lease_lapsed), 1);
  rig.run(seconds{299});
  EXPECT_FALSE(rig.running(Output::dehumidifier));
  rig.run(seconds{2});
  EXPECT_TRUE(rig.running(Output::dehumidifier));
}

TEST(Driven, AnOutputThatNobodyTellsOfDoesAsItWasGranted) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.ask(hold(Output::dehumidifier, kRunning, hours{1}));
  rig.run(minutes{10});
  EXPECT_TRUE(rig.running(Output::dehumidifier));
  EXPECT_EQ(told(rig, Reason::lease_lapsed), 0);
}

Millis newest_run(const Rig& rig) {
  const PumpBudget& budget = rig.state.kept.budget;
  return Millis{budget.runs[static_cast<std::size_t>(budget.run_count - 1) % kBudgetRuns].ms};
}

TEST(Driven, ARunIsCreditedOnlyOnceThePumpIsProvenStopped) {
  Rig rig{strawberry_plan(), 7 * 3600};
  obey(rig);
  rig.run(minutes{1});
  rig.ask(hold(Output::pump, kRunning, minutes{1}));
  rig.run(seconds{30});
  const Millis debited = newest_run(rig);
  rig.after_scan = {};  // the pump is told to stop, and nobody can prove that it did
  rig.inputs.driven[Output::pump] = Driven{kStopped, false};
  rig.run(minutes{3});
  ASSERT_FALSE(rig.running(Output::pump));
  EXPECT_TRUE(rig.state.kept.budget.run_open);
  EXPECT_EQ(newest_run(rig), debited);
  rig.run(debited);
  EXPECT_GT(newest_run(rig), debited) << "beyond its debit it costs what it takes";
  rig.inputs.driven[Output::pump] = Driven{kStopped, true};
  rig.scan_now();
  EXPECT_FALSE(rig.state.kept.budget.run_open);
}

TEST(Driven, ARunThatOutlastsItsDebitByAHangCostsWhatItTook) {
  PumpBudget budget;
  const Instant began = instant(Millis{4'294'967'000});
  open_run(budget, seconds{60}, true, began);
  extend_run(budget, began + seconds{60});
  EXPECT_EQ(budget.runs[0].ms, 60'000);
  extend_run(budget, began + seconds{90});
  TablePlan table;
  table.max_on_per_hour = hours{1};
  table.max_on_per_day = hours{1};
  const BudgetView view = view_budget(table, budget, began + seconds{90});
  EXPECT_EQ(view.hour, seconds{90});
  EXPECT_EQ(view.day, seconds{90});
}

// --- the pump's own proof -----------------------------------------------------------------------

struct WithProof : Rig {
  WithProof() : Rig{proven_plan(), 7 * 3600} {
    obey(*this);
    run(minutes{1});
  }
  static Plan proven_plan() {
    Plan plan = strawberry_plan();
    plan.points[Point::pump_running] = plan.points[Point::tray_full];
    return plan;
  }
  void turns(bool on) { contact(Point::pump_running, on ? Contact::set : Contact::clear); }
  void run_by_hand(Millis span) {
    ask(hold(Output::pump, kRunning, span));
    turns(true);
    run(span + seconds{1});
  }
  void weld_and_restart() {
    run_by_hand(minutes{1});
    run(seconds{12});
    ASSERT_TRUE(latched(Latch::pump_welded));
    const Kept kept = state.kept;
    boot(&kept);
  }
};

TEST(PumpProof, AContactThatDoesNotOpenIsLatchedWithinTenSecondsAndToldAsWelded) {
  WithProof rig;
  rig.run_by_hand(minutes{1});
  ASSERT_FALSE(rig.running(Output::pump));
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
  rig.run(seconds{12});  // the rig samples each 10 s
  EXPECT_TRUE(rig.latched(Latch::pump_welded));
  EXPECT_EQ(rig.alarm(Alarm::pump_welded), AlarmState::unacknowledged);
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::normal);
  EXPECT_FALSE(rig.ask({.kind = RequestKind::reset_latch, .latch = Latch::pump_welded}).accepted);
  rig.turns(false);  // unplugged
  rig.run(minutes{1});
  EXPECT_TRUE(rig.latched(Latch::pump_welded)) << "unplugged is not repaired";
  EXPECT_EQ(rig.reason(Output::pump), Reason::latched);
  EXPECT_TRUE(rig.ask({.kind = RequestKind::reset_latch, .latch = Latch::pump_welded}).accepted);
}

constexpr Request kResetWeld{.kind = RequestKind::reset_latch, .latch = Latch::pump_welded};

TEST(PumpProof, AfterARestartAWeldIsNotResetBeforeThePumpWasSeenToStand) {
  WithProof rig;
  ASSERT_NO_FATAL_FAILURE(rig.weld_and_restart());
  rig.scan_now();
  EXPECT_FALSE(rig.ask(kResetWeld).accepted) << "it turns, and nobody has asked for long enough";
  rig.run(seconds{12});
  EXPECT_FALSE(rig.ask(kResetWeld).accepted);
  rig.turns(false);
  rig.run(seconds{20});
  EXPECT_TRUE(rig.ask(kResetWeld).accepted);
}

TEST(PumpProof, ASilentProofEndsNoWeld) {
  WithProof rig;
  ASSERT_NO_FATAL_FAILURE(rig.weld_and_restart());
  rig.silence(Point::pump_running);
  rig.inputs.samples[Point::pump_running] = {};
  rig.run(minutes{5});
  EXPECT_FALSE(rig.ask(kResetWeld).accepted);
  EXPECT_TRUE(rig.latched(Latch::pump_welded));
}

TEST(PumpProof, APumpThatStoodAndRunsUnaskedIsInHandAndLatchesNothing) {
  WithProof rig;
  rig.run_by_hand(minutes{1});
  rig.turns(false);
  rig.run(minutes{1});
  rig.turns(true);
  rig.run(seconds{12});
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::unacknowledged);
  const Event refused = rig.ask({.kind = RequestKind::flood_start});
  EXPECT_FALSE(refused.accepted);
  EXPECT_EQ(refused.because.reason, Reason::pump_in_hand);
  rig.turns(false);
  rig.run(seconds{30});
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::returned);
  EXPECT_TRUE(rig.ask({.kind = RequestKind::flood_start}).accepted);
}

TEST(PumpProof, APumpThatIsDrivenAndStandsIsTold) {
  WithProof rig;
  rig.ask(hold(Output::pump, kRunning, minutes{2}));
  rig.run(seconds{30});
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::unacknowledged);
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
}

TEST(PumpProof, APumpAtRestAfterItsRunIsNoNews) {
  WithProof rig;
  rig.run_by_hand(minutes{1});
  rig.turns(false);
  rig.run(minutes{5});
  EXPECT_EQ(rig.alarm(Alarm::pump_in_hand), AlarmState::normal);
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
}

TEST(PumpProof, ASilentProofAccusesNobody) {
  WithProof rig;
  rig.run_by_hand(minutes{1});
  rig.silence(Point::pump_running);
  rig.contact(Point::pump_running, Contact::set);
  rig.run(minutes{5});
  EXPECT_FALSE(rig.latched(Latch::pump_welded));
}

// Before the start nobody watched: a pump that runs now is taken for the worse of the two.
TEST(PumpProof, APumpThatRunsAtTheStartIsTakenForWelded) {
  const Instant start = instant(Millis{4'294'967'000});
  PumpProof pump = start_state(strawberry_plan(), nullptr, start).pump_proof;
  const auto turning = [&](Millis after) {
    return PumpSays{.running = FloatSeen::set, .running_taken = start + after};
  };
  pump = judge_pump(pump, PumpTold::stopped, false, turning(seconds{2}), start + seconds{2});
  EXPECT_EQ(pump.seen, PumpSeen::obeys) << "three seconds first";
  pump = judge_pump(pump, PumpTold::stopped, false, turning(seconds{3}), start + seconds{3});
  EXPECT_EQ(pump.seen, PumpSeen::welded);
}

}  // namespace
}  // namespace neap::test
