// Goal: commissioning switches only for moments, believes no part that a person or the daemon did
// not see work, and proposes settings from what was measured. Method: scripted answers before a
// daemon that is a few lines of test.
#include "daemon/client/commission.h"

#include <algorithm>

#include "tests/client/commission_bench.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using testing::Bench;
using ::testing::HasSubstr;
using testing::json;
using testing::neap;
using testing::passed;

const std::string kContactsWell = "yes\n\n\n\n\n\n\n";  // RCD; each contact away and home
// Pump: ready, stands without neapd, neapd is back, ran, stopped, no bucket; fan: started, resumes,
// no speed.
const std::string kOutputsWell = "yes\nyes\n\nyes\nyes\nno\nyes\nyes\nno\n";
const std::string kFloodWell = "yes\nyes\n";

TEST(Commission, WalksThroughEveryPartAndProposesWhatItMeasured) {
  Bench bench;
  const Commissioned done = bench.run(kContactsWell + kOutputsWell + kFloodWell);
  for (const char* part :
       {"pump", "exhaust_fan", "leak_floor", "tray_full", "reservoir_low", "flood"})
    EXPECT_TRUE(passed(done, part)) << part << "\n" << bench.said;
  EXPECT_EQ(bench.count("proof"), 4) << "the flood proves itself, the fan needs none";
  EXPECT_THAT(done.settings,
              ::testing::ElementsAre("table.fill_limit: 5 min", "table.pump_flow: 600 L/h",
                                     "table.drain_limit: 14 min"));
  ASSERT_EQ(bench.asked.back().first, "measure");
  EXPECT_EQ(bench.asked.back().second["values"]["fill_s"], 150.0);
  EXPECT_EQ(bench.asked.back().second["note"], "neap commission");
}

TEST(Commission, HoldsThePumpForSecondsOnly) {
  Bench bench;
  bench.run(kContactsWell + kOutputsWell + kFloodWell);
  for (const auto& [verb, args] : bench.asked) {
    if (verb == "hold" && args["output"] == "pump") {
      EXPECT_LE(args["for_s"], 10.0);
    }
  }
  EXPECT_EQ(bench.count("hold", "pump"), 1);
}

TEST(Commission, WithoutAnRcdNothingIsSwitched) {
  Bench bench;
  bench.run("no\n");
  EXPECT_EQ(bench.count("hold"), 0);
  EXPECT_THAT(bench.said, HasSubstr("no RCD guards"));
}

TEST(Commission, APumpThatDoesNotStopIsReleasedAndNotPassed) {
  Bench bench;
  const Commissioned done = bench.run("yes\nyes\nyes\n\nyes\nno\n", {"pump"});
  EXPECT_FALSE(passed(done, "pump"));
  EXPECT_EQ(bench.count("release", "pump"), 1);
  EXPECT_EQ(bench.count("proof"), 0);
  EXPECT_THAT(bench.said, HasSubstr("Pull its plug"));
}

TEST(Commission, NoFloodAfterAPartThatFailed) {
  Bench bench;
  const Commissioned done =
      bench.run(kContactsWell + "yes\nyes\n\nno\nyes\nyes\nno\n" + kFloodWell);
  EXPECT_FALSE(passed(done, "pump"));
  EXPECT_FALSE(passed(done, "flood"));
  EXPECT_EQ(bench.count("flood"), 0);
}

TEST(Commission, WhatTheDaemonDidNotSeeIsNotPassed) {
  Bench bench;
  bench.refuses = {"proof leak_floor"};
  const Commissioned done = bench.run("yes\n\n\n", {"leak_floor"});
  EXPECT_FALSE(passed(done, "leak_floor"));
  EXPECT_THAT(bench.said, HasSubstr("neapd refuses: it is not so"));
}

TEST(Commission, AProbeThatStaysDryIsLookedAtAgainOrGivenUp) {
  Bench bench;
  const Commissioned done = bench.run("yes\n\nno\n", {"reservoir_low", "nothing"});
  EXPECT_THAT(bench.said, HasSubstr("no test is called \"nothing\""));
  Bench dry;
  dry.answer("status", json::object());  // now each look comes one too early
  dry.answer("status", json::object());
  const Commissioned given_up = dry.run("yes\n\nno\n", {"leak_floor"});
  EXPECT_FALSE(passed(given_up, "leak_floor"));
  EXPECT_THAT(dry.said, HasSubstr("neap reads clear, not set. Look again?"));
}

TEST(Commission, ASettingsFileThatObservesCannotBeCommissioned) {
  Bench bench;
  bench.mode = "observe";
  bench.hand = bench.pump_hand = "another";
  bench.run("yes\n");
  EXPECT_EQ(bench.count("hold"), 0);
  EXPECT_THAT(bench.said, HasSubstr("neap drives nothing"));
}

TEST(Commission, OnASimulatedTentItIsAnExerciseWithoutProofs) {
  Bench bench;
  bench.asks_tests = false;
  const Commissioned done = bench.run(kContactsWell + kOutputsWell + kFloodWell);
  EXPECT_TRUE(passed(done, "leak_floor"));
  EXPECT_EQ(bench.count("proof"), 0);
}

TEST(Commission, TheLeastLevelOfAFanIsWhereItFirstTurns) {
  Bench bench;
  const Commissioned done = bench.run(
      "yes\nyes\nyes\nyes\n"
      "yes\nno\nyes\nno\nyes\nno\nyes\nyes\n",
      {"exhaust_fan"});
  EXPECT_EQ(done.measured.fan_least_pct, 20);
  EXPECT_THAT(done.settings, ::testing::ElementsAre("outputs.exhaust_fan.floor: 20 %"));
  EXPECT_GE(bench.count("release", "exhaust_fan"), 1);
}

TEST(Commission, AFloorThatHoldsTheFanIsNotTakenForItsLeastLevel) {
  Bench bench;
  bench.fan_floor = 250;
  const Commissioned done = bench.run("yes\nyes\nyes\nyes\nyes\nyes\n", {"exhaust_fan"});
  EXPECT_EQ(done.measured.fan_least_pct, std::nullopt);
  EXPECT_TRUE(done.settings.empty());
  EXPECT_THAT(bench.said, HasSubstr("floor holds it at 25 %: write a lower floor first"));
}

TEST(Commission, AFanThatNeverStandsHasNoLeastLevel) {
  Bench bench;
  const Commissioned done = bench.run("yes\nyes\nyes\nyes\nno\n", {"exhaust_fan"});
  EXPECT_EQ(done.measured.fan_least_pct, std::nullopt);
}

TEST(Commission, ALatchThatStoodBeforeIsNotTheTests) {
  for (const char* latch : {"leak", "overflow"}) {
    Bench bench;
    bench.latches = {latch};
    bench.run(kContactsWell + kOutputsWell + kFloodWell);
    EXPECT_THAT(bench.said, HasSubstr("latch " + std::string(latch) + " stands"));
    EXPECT_EQ(bench.count("hold") + bench.count("reset"), 0);
  }
}

TEST(Commission, ProbesAndFloatsAreSeenBeforeThePumpRuns) {
  Bench bench;
  bench.run(kContactsWell + kOutputsWell + kFloodWell);
  const auto first = [&](const char* verb) {
    return std::find_if(bench.asked.begin(), bench.asked.end(),
                        [&](const auto& call) { return call.first == verb; });
  };
  ASSERT_NE(first("proof"), bench.asked.end());
  EXPECT_EQ(first("proof")->second["test"], "leak_floor");
  EXPECT_LT(first("proof"), first("hold"));
}

TEST(Commission, APumpThatRunsWithoutNeapdIsNotEvenTried) {
  Bench bench;
  const Commissioned done = bench.run("yes\nyes\nno\n", {"pump"});
  EXPECT_FALSE(passed(done, "pump"));
  EXPECT_EQ(bench.count("hold"), 0);
}

TEST(Commission, AFloodThatNobodyWatchesAnyMoreIsStopped) {
  Bench bench;
  bench.run("yes\nyes\n", {"flood"});  // RCD, ready, and the answers end
  EXPECT_EQ(bench.asked.back(), (std::pair<std::string, json>("flood", {{"action", "stop"}})));
  EXPECT_THAT(bench.said, AllOf(HasSubstr("Ctrl-C, and the pump stops"), HasSubstr("answers ended"),
                                HasSubstr("The flood is stopped")));
}

TEST(Commission, ACompressorHasItsRestAroundThePlug) {
  Bench bench;
  bench.extra_output = "dehumidifier";
  bench.extra_level = 0;
  bench.run("yes\nyes\nyes\n", {"dehumidifier"});
  EXPECT_THAT(bench.said, AllOf(HasSubstr("wait 5 min, put it back"), HasSubstr("its rest time")));
  ASSERT_EQ(bench.count("hold", "dehumidifier"), 1);
  for (const auto& [verb, args] : bench.asked)
    if (verb == "hold") {
      EXPECT_GT(args["for_s"], 600.0) << "a rest of 5 min, and 5 min without its plug";
    }
}

TEST(Commission, AFloodThatWasNotCompleteProposesNothing) {
  Bench bench;
  bench.flood_.reset();
  const Commissioned done = bench.run("yes\n" + kFloodWell, {"flood"});
  EXPECT_FALSE(passed(done, "flood"));
  EXPECT_TRUE(done.settings.empty());
}

TEST(Commission, CtrlCEndsWhatIsHeldAndKeepsTheRecordSoFar) {
  Bench bench;
  // Ctrl-C comes while it is asked whether the pump ran.
  bench.interrupted = [&] { return bench.count("hold", "pump") > 0; };
  const Commissioned done = bench.run("yes\n\n\nyes\nyes\n\n\n", {"leak_floor", "pump"});
  EXPECT_TRUE(passed(done, "leak_floor"));
  EXPECT_EQ(bench.asked.back().first, "release");
  EXPECT_EQ(bench.asked.back().second["output"], "pump");
  EXPECT_THAT(bench.said, AllOf(HasSubstr("ended by Ctrl-C"), HasSubstr("no longer held")));
  EXPECT_FALSE(passed(done, "pump"));
}

TEST(Commission, CtrlCStopsAFloodByTheDaemonsOwnVerb) {
  Bench bench;
  bench.interrupted = [&] { return bench.count("flood") > 0; };
  bench.run("yes\nyes\n", {"flood"});
  EXPECT_EQ(bench.asked.back(), (std::pair<std::string, json>("flood", {{"action", "stop"}})));
}

// 7 L in 20 s are 1260 L/h, by arithmetic.
TEST(Commission, ABucketMeasuresThePumpsFlowAgainstItsLabel) {
  const std::string bucket = "yes\nyes\nyes\n\nyes\nyes\nyes\nlots\n7\n";
  Bench bench;
  bench.tent.build_flow_l_per_h = 800;
  const Commissioned done = bench.run(bucket, {"pump"});
  ASSERT_TRUE(done.measured.pump_flow_l_per_h) << bench.said;
  EXPECT_DOUBLE_EQ(*done.measured.pump_flow_l_per_h, 1260);
  EXPECT_THAT(done.settings, ::testing::ElementsAre("table.pump_flow: 1260 L/h"));
  EXPECT_THAT(bench.said,
              AllOf(HasSubstr("it should be 800 L/h: measure"), HasSubstr("once more")));
  EXPECT_EQ(bench.asked.back().second["values"]["pump_flow_l_per_h"], 1260.0);
  Bench agreed;
  agreed.tent.build_flow_l_per_h = 1200;
  agreed.run(bucket, {"pump"});
  EXPECT_THAT(agreed.said, HasSubstr("it should be 1200 L/h."));
}

const std::string kBucket = "yes\nyes\nyes\n\nyes\nyes\nyes\n7\n";

TEST(Commission, ABucketIsDividedByTheRunThatNeapdBooked) {
  Bench bench;
  bench.bucket_run_s = 19.5;
  bench.hour_forgets_s = 100;  // a flood of an hour ago leaves the hour's sum meanwhile
  const Commissioned done = bench.run(kBucket, {"pump"});
  ASSERT_TRUE(done.measured.pump_flow_l_per_h) << bench.said;
  EXPECT_NEAR(*done.measured.pump_flow_l_per_h, 7 / 19.5 * 3600, 1e-6);
  EXPECT_EQ(bench.count("release", "pump"), 1) << "a hold is let go, not forgotten";
}

TEST(Commission, WhatProvingThePumpStoppedTakesIsNoWater) {
  Bench bench;
  bench.bucket_run_s = 21.0;  // a scan after its hold has ended
  const Commissioned done = bench.run(kBucket, {"pump"});
  EXPECT_DOUBLE_EQ(done.measured.pump_flow_l_per_h.value_or(0), 1260) << bench.said;
}

TEST(Commission, ABucketUnderAnotherRunThanMeantIsNoFlow) {
  struct Row {
    double ran_s;
    const char* said;
  };
  for (const Row& row : {Row{12, "ran for 12.0 s, not for 20 s"}, Row{0, "ran for 0.0 s"},
                         Row{600, "counts the pump for 600.0 s"}}) {
    Bench bench;
    bench.bucket_run_s = row.ran_s;
    const Commissioned done = bench.run(kBucket, {"pump"});
    EXPECT_EQ(done.measured.pump_flow_l_per_h, std::nullopt);
    EXPECT_TRUE(done.settings.empty());
    EXPECT_THAT(bench.said, HasSubstr(row.said));
  }
}

// The pump held and stopped, then a flood whose end nobody answers for.
const std::string kPumpThenFlood = "yes\nyes\nyes\n\nyes\nyes\nno\nyes\n";

TEST(Commission, AFloodThatHasLongStoppedPumpingIsNoReasonToPullThePlug) {
  Bench bench;
  bench.refuses = {"flood stop"};
  bench.refuses_because = "flood_not_running";
  bench.run(kPumpThenFlood, {"pump", "flood"});
  EXPECT_THAT(bench.said, AllOf(HasSubstr("pumping is over"), HasSubstr("no longer held"),
                                ::testing::Not(HasSubstr("could not be stopped"))));
  EXPECT_EQ(bench.count("release", "pump"), 1);
}

TEST(Commission, AFloodThatCannotBeStoppedIsToldAndWhatIsHeldIsLetGoAllTheSame) {
  Bench bench;
  bench.refuses = {"flood stop"};
  bench.refuses_because = "observing";
  bench.run(kPumpThenFlood, {"pump", "flood"});
  EXPECT_THAT(bench.said, HasSubstr("could not be stopped: pull the pump's plug"));
  EXPECT_EQ(bench.count("release", "pump"), 1);
}

TEST(Commission, WhatIsSeenWhileThePumpIsInAnotherHandIsNotRecorded) {
  Bench bench;
  bench.pump_hand = "another";
  bench.asks_tests = false;
  const Commissioned done = bench.run("yes\n\n\n", {"leak_floor"});
  EXPECT_FALSE(passed(done, "leak_floor"));
  ASSERT_EQ(done.findings.size(), 1U) << bench.said;
  EXPECT_EQ(done.findings[0].remark, "seen, not recorded: test again once the pump is neap's");
}

TEST(Commission, APartInAnotherHandThatIsAskedForByNameIsRefused) {
  for (const char* name : {"pump", "flood"}) {
    Bench bench;
    bench.pump_hand = "another";
    bench.asks_tests = false;
    bench.run("yes\n", {name});
    EXPECT_THAT(bench.said, AllOf(HasSubstr("pump is in another hand"),
                                  HasSubstr("write hand: neap under outputs.pump")));
  }
}

TEST(Commission, TheBucketsFlowGoesBeforeTheFloods) {
  Bench bench;
  const Commissioned done =
      bench.run("yes\nyes\nyes\n\nyes\nyes\nyes\n5\n" + kFloodWell, {"pump", "flood"});
  EXPECT_THAT(done.settings, ::testing::Contains("table.pump_flow: 900 L/h"));
}

TEST(Commission, EachOfTwoContactsMustKeepThePumpStill) {
  Bench bench;
  bench.extra_output = "pump_series";
  const Commissioned done = bench.run("yes\n\nyes\n\n\nyes\n\nyes\n", {"pump_series"});
  EXPECT_TRUE(passed(done, "pump_series")) << bench.said;
  EXPECT_EQ(bench.count("hold", "pump"), 3);
  EXPECT_EQ(bench.count("release", "pump"), 3);
  Bench welded;
  welded.extra_output = "pump_series";
  const Commissioned failed = welded.run("yes\n\nyes\n\n\nno\n", {"pump_series"});
  EXPECT_FALSE(passed(failed, "pump_series"));
  EXPECT_THAT(failed.findings.back().remark, HasSubstr("without the contact of pump_series"));
}

// Ready, still without neapd, back, ran, stopped; then the circuit: wire off, stands, wire back,
// stops, wire back; no bucket.
TEST(Commission, ADeadManCircuitMustKeepThePumpStillAndStopIt) {
  const std::string pump_well = "yes\nyes\nyes\n\nyes\nyes\n";
  Bench bench;
  bench.tent.enable_pulse = "GPIO13";
  EXPECT_TRUE(passed(bench.run(pump_well + "\nyes\n\nyes\n\nno\n", {"pump"}), "pump"))
      << bench.said;
  EXPECT_EQ(bench.count("hold", "pump"), 3);
  EXPECT_EQ(bench.count("release", "pump"), 2);
  Bench bridged;
  bridged.tent.enable_pulse = "GPIO13";
  const Commissioned runs = bridged.run(pump_well + "\nno\n\n", {"pump"});
  EXPECT_FALSE(passed(runs, "pump"));
  EXPECT_THAT(runs.findings.back().remark, HasSubstr("runs without the pulse"));
  EXPECT_EQ(bridged.count("proof"), 0);
  Bench holds_on;
  holds_on.tent.enable_pulse = "GPIO13";
  const Commissioned late = holds_on.run(pump_well + "\nyes\n\nno\n\n", {"pump"});
  EXPECT_THAT(late.findings.back().remark, HasSubstr("takes a level for a pulse"));
  EXPECT_EQ(holds_on.count("proof"), 0);
}

TEST(Commission, AFloodThatNoSensorSawProvesNothingAndSaysWhich) {
  Bench bench;
  bench.flood_proven = false;
  bench.level_fitted = true;
  const Commissioned done = bench.run("yes\n" + kFloodWell, {"flood"});
  EXPECT_FALSE(passed(done, "flood"));
  EXPECT_THAT(done.findings.back().remark, HasSubstr("level could not be read"));
}

TEST(Commission, WithoutADaemonSaysSo) {
  EXPECT_EQ(neap({"commission", "--socket", "/nowhere/s"}, {}, false, "yes\n").code, kExitNoDaemon);
}

}  // namespace
}  // namespace neap::client
