// Goal: commissioning switches only for moments, believes no part that a person or the daemon did
// not see work, and proposes settings from what was measured. Method: scripted answers before a
// daemon that is a few lines of test.
#include "daemon/client/commission.h"

#include <algorithm>

#include "tests/client/support.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using testing::json;
using testing::neap;

// A tent of pump, fan and three contacts. Contacts follow `script`: what each status call finds.
class Bench {
 public:
  std::vector<std::pair<std::string, json>> asked;
  std::string mode = "control";
  bool asks_tests = true;
  std::vector<std::string> refuses;  // "proof pump"
  std::vector<std::string> latches;
  int fan_floor = 0;  // per mille, as the settings would have it
  std::string extra_output;
  int extra_level = 1000;
  std::string hand = "neap";
  bool flood_proven = true;
  std::optional<double> level_l;  // of the reservoir, where a sensor is fitted
  bool level_fitted = false;
  AtTheTent tent;
  std::function<bool()> interrupted;
  std::function<void()> on_look;

  json answer(std::string_view verb, const json& args) {
    asked.emplace_back(verb, args);
    if (verb == "hold" && args["output"] == "exhaust_fan")
      fan_ = args["level"] == 0 ? 0 : std::max(fan_floor, args["level"].get<int>());
    const std::string subject = args.value("test", args.value("output", args.value("action", "")));
    const std::string call = std::string(verb) + (subject.empty() ? "" : " " + subject);
    if (std::find(refuses.begin(), refuses.end(), call) != refuses.end())
      throw Failure(kExitRefused, "it is not so", "make it so");
    return verb == "status" ? status() : json::object();
  }

  Commissioned run(const std::string& typed, const std::vector<std::string>& only = {}) {
    std::istringstream in(typed);
    std::ostringstream out;
    Questions questions(in, out, true, "begin again");
    const AskDaemon ask = [this](std::string_view verb, const json& args) {
      return answer(verb, args);
    };
    tent.last_flood = [this] { return flood_; };
    if (interrupted) questions.end_when(interrupted);
    try {
      const Commissioned done = commission(questions, ask, tent, only);
      said = out.str();
      return done;
    } catch (const CommissionEnded& ended) {
      said = out.str() + ended.what();
      return ended.so_far;
    } catch (const Failure& failure) {
      said = out.str() + failure.what();
      return {};
    }
  }

  int count(const std::string& verb, const std::string& subject = "") const {
    int n = 0;
    for (const auto& [name, args] : asked)
      n += name == verb &&
           (subject.empty() || args.value("test", args.value("output", "")) == subject);
    return n;
  }

  std::string said;
  std::optional<Measured> flood_ = Measured{150.0, 400.0, 25.0, std::nullopt, std::nullopt};

 private:
  // Each contact is found away at its first look after a question, home at its next.
  json status() {
    ++looks_;
    if (on_look) on_look();
    json proofs = json::array();
    for (const char* test : {"pump", "tray_full", "leak_floor", "reservoir_low", "flood"})
      if (asks_tests)
        proofs.push_back(
            {{"test", test}, {"passed", flood_proven && test == std::string("flood")}});
    const auto reading = [&](const char* point, bool home_is_set) {
      const bool away = looks_ % 3 == 2;  // status at the start, away, home, and the latches'
      return json{{"point", point}, {"value", (away != home_is_set) ? 1.0 : 0.0}};
    };
    json outputs = json::array({{{"output", "pump"}, {"hand", hand}},
                                {{"output", "exhaust_fan"}, {"level", fan_}, {"hand", hand}}});
    if (!extra_output.empty())
      outputs.push_back({{"output", extra_output}, {"level", extra_level}});
    json standing = json::array();
    for (const std::string& latch : latches) standing.push_back({{"latch", latch}});
    json readings = json::array({reading("leak.floor", false), reading("tray.full", false),
                                 reading("reservoir.low", true)});
    if (level_fitted)
      readings.push_back(
          {{"point", "reservoir.level"}, {"value", level_l ? json(*level_l) : json(nullptr)}});
    return {{"mode", mode},     {"outputs", outputs},  {"readings", readings},
            {"proofs", proofs}, {"latches", standing}, {"flood", {{"phase", "idle"}}}};
  }
  int looks_ = 0;
  int fan_ = 0;
};

const std::string kContactsWell = "yes\n\n\n\n\n\n\n";  // RCD; each contact away and home
// Pump: ready, stands without neapd, neapd is back, ran, stopped, no bucket; fan: started, resumes,
// no speed.
const std::string kOutputsWell = "yes\nyes\n\nyes\nyes\nno\nyes\nyes\nno\n";
const std::string kFloodWell = "yes\nyes\n";

bool passed(const Commissioned& done, const std::string& part) {
  return std::any_of(done.findings.begin(), done.findings.end(),
                     [&](const Finding& one) { return one.part == part && one.passed; });
}

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
  bench.hand = "another";
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

TEST(Commission, AFloodThatNoSensorSawProvesNothingAndSaysWhich) {
  Bench bench;
  bench.flood_proven = false;
  bench.level_fitted = true;
  const Commissioned done = bench.run("yes\n" + kFloodWell, {"flood"});
  EXPECT_FALSE(passed(done, "flood"));
  EXPECT_THAT(done.findings.back().remark, HasSubstr("level could not be read"));
}

Tank tank_of_tests() { return {"reservoir", "mV", {{500, 0}, {1500, 50}, {2500, 90}}}; }

TEST(Commission, ATankIsReadBackThroughItsTable) {
  EXPECT_DOUBLE_EQ(reading_for(tank_of_tests(), 25).value_or(0), 1000);
  EXPECT_DOUBLE_EQ(reading_for(tank_of_tests(), 70).value_or(0), 2000);
  EXPECT_EQ(reading_for(tank_of_tests(), 91), std::nullopt);
}

TEST(Commission, PouredLitresBesideReadingsBecomeTheTanksTable) {
  Bench bench;
  bench.tent.tank = tank_of_tests();
  bench.level_fitted = true;
  bench.level_l = 25;
  int looks = 0;
  bench.on_look = [&] { bench.level_l = 5.0 * ++looks; };
  const Commissioned done = bench.run("yes\nyes\n4\n4.1\n12\n\n", {"tank"});
  EXPECT_TRUE(passed(done, "tank")) << bench.said;
  EXPECT_THAT(bench.said, HasSubstr("no step upwards"));
  EXPECT_THAT(done.settings, ::testing::ElementsAre("sensors.reservoir.with.curve: [700.0 mV = 4.0 "
                                                    "L, 900.0 mV = 12.0 L]"));
}

TEST(Commission, WithoutADaemonSaysSo) {
  EXPECT_EQ(neap({"commission", "--socket", "/nowhere/s"}, {}, false, "yes\n").code, kExitNoDaemon);
}

}  // namespace
}  // namespace neap::client
