// Goal: a turnover goes step by step with a person who confirms each, may be broken off and taken
// up again, floods nothing but by hand, and tells what was left out.
#include "daemon/client/turnover.h"

#include "daemon/client/interrupt.h"
#include "tests/client/told.h"

namespace neap::client {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using testing::json;
using testing::kNoonUnixMs;
using ::testing::Not;
using testing::ToldTent;

constexpr std::int64_t kMinuteMs = 60'000;

// A tent in which every flood takes ten minutes, and a person needs five for an answer.
class Bench {
 public:
  Bench() {
    tent.fallow_stage = "fallow";
    tent.reservoir_l = 50;
    tent.settings = {200, 5, hours{1}, 2};
    tent.now_unix_ms = [this] { return now; };
    tent.clock = [](std::int64_t ms) {
      return "noon and " + std::to_string((ms - kNoonUnixMs) / kMinuteMs) + " min";
    };
    tent.tell = [this](std::string_view step, std::string_view mark, std::optional<double> figure,
                       const std::string& says) {
      now += 1000;
      journal::DiaryRow row;
      row.happened.unix_ms = now;
      row.kind = "turnover";
      row.subject = step;
      row.mark = mark;
      row.says = says;
      row.figure = figure;
      diary.push_back(row);
      if (step != kBleachFlood && step != kRinseFlood && step != "dose")
        told.push_back(std::string(step) + " " + std::string(mark));
    };
    tent.end_grow = [this] { grow_ended = true; };
    tent.archive = [](const std::string& path) { return "copied to " + path; };
    tent.floods = [this](std::int64_t since) {
      std::vector<FloodSpan> found;
      for (const FloodSpan& span : floods)
        if (span.from_unix_ms >= since) found.push_back(span);
      return found;
    };
    tent.measured = [this](std::string_view, std::int64_t since) { return measured_at >= since; };
  }

  json answer(std::string_view verb, const json& args) {
    asked.emplace_back(verb, args);
    if (verb == "stage") stage = args["name"];
    if (verb == "flood" && args["action"] == "stop" && stop_refused)
      throw Failure(kExitRefused, "no flood runs", "");
    if (verb == "flood" && args["action"] == "start" && too_soon) {
      now += too_soon_for_min * kMinuteMs;
      too_soon = false;
      throw Failure(kExitRefused, "too soon after the last flood", "wait");
    }
    if (verb == "flood" && args["action"] == "start") {
      floods.push_back({now, now + 10 * kMinuteMs});
      now += (10 + pause_min) * kMinuteMs;
    }
    if (verb == "calibrations")
      return {{"calibrations", json::array({{{"probe", "ph"},
                                             {"fitted", true},
                                             {"in_force", {{"at_unix_ms", calibrated_at}}}}})}};
    return {{"stage", {{"name", stage}}},
            {"flood", {{"phase", phase}, {"since_s", 600}}},
            {"proofs",
             proofs_asked
                 ? json::array({{{"test", "pump"}, {"passed", true}, {"at_unix_ms", proven_at}}})
                 : json::array()}};
  }

  // What was said; a Failure's words last.
  std::string run(const std::string& typed) {
    std::istringstream in(typed);
    std::ostringstream out;
    Questions questions(in, out, true, "go on later");
    const AskDaemon ask = [this](std::string_view verb, const json& args) {
      return answer(verb, args);
    };
    try {
      turn_over(questions, ask, tent, turnover_of(diary));
    } catch (const Failure& failure) {
      out << failure.what() << "; " << failure.remedy();
    }
    return out.str();
  }
  int count(const std::string& verb, const std::string& action) const {
    int n = 0;
    for (const auto& [name, args] : asked) n += name == verb && args.value("action", "") == action;
    return n;
  }

  TurnoverTent tent;
  std::int64_t now = kNoonUnixMs;
  std::int64_t pause_min = 5;  // after a flood, until the next
  std::string stage = "fruiting";
  std::string phase = "rest";
  std::int64_t calibrated_at = kNoonUnixMs + 999 * kMinuteMs;
  std::int64_t proven_at = calibrated_at;
  std::int64_t measured_at = calibrated_at;
  bool grow_ended = false;
  bool proofs_asked = true;
  bool stop_refused = false;
  bool too_soon = false;
  std::int64_t too_soon_for_min = 30;
  std::vector<FloodSpan> floods;
  std::vector<journal::DiaryRow> diary;
  std::vector<std::string> told;
  std::vector<std::pair<std::string, json>> asked;
};

std::string times_of(const std::string& text, int times) {
  std::string all;
  for (int i = 0; i < times; ++i) all += text;
  return all;
}
// ready for the flood, and drained well
const std::string kFlood = "yes\ndrained\n";
// fallow, the archive's name, emptied; strength and litres as offered
const std::string kUntilBleach = "yes\n\nyes\n\n\n";

TEST(Turnover, TheWholeOfItInOrder) {
  Bench bench;
  bench.tent.grow = "june";
  // ended; fallow; the archive's name; emptied; five floods of bleach are 10 + 4 * 15 = 70 min.
  const std::string said =
      bench.run("yes\n" + kUntilBleach + times_of(kFlood, 5) + times_of(kFlood, 2));
  EXPECT_THAT(bench.told,
              ElementsAre("begin done", "archive done", "empty done", "disinfect done",
                          "rinse done", "probes done", "proofs done", "baselines done", "end done"))
      << said;
  EXPECT_TRUE(bench.grow_ended);
  EXPECT_EQ(bench.stage, "fallow");
  EXPECT_EQ(bench.count("flood", "start"), 7);
  EXPECT_EQ(bench.count("flood", "stop"), 0);
  EXPECT_THAT(said, HasSubstr("june-journal.db"));
  EXPECT_EQ(turnover_of(bench.diary).told("disinfect")->figure, 70);
}

TEST(Turnover, BleachIsFreeChlorineOverTheBottles) {
  // 200 mg/L in 50 L are 10 g; a bottle of 5 g in 100 mL has them in 200 mL (mass balance).
  EXPECT_DOUBLE_EQ(bleach_ml(200, 5, 50), 200);
  EXPECT_DOUBLE_EQ(bleach_ml(150, 2.5, 40), 240);
  Bench bench;
  // As typed from the label and the reservoir: 200 * 30 / (10 * 2.5).
  const std::string said = bench.run("yes\n\nyes\n20\n2.5\n30\n" + times_of(kFlood, 5));
  EXPECT_THAT(said, HasSubstr("240 mL of 2.5 % bleach in 30.0 L"));
  EXPECT_THAT(turnover_of(bench.diary).told("disinfect")->says,
              HasSubstr("240 mL of 2.5 % bleach in 30.0 L"));
}

TEST(Turnover, ATrayThatDriedBetweenTwoFloodsCountsAnew) {
  Bench bench;
  bench.pause_min = 45;
  const std::string said = bench.run(kUntilBleach + times_of(kFlood, 8));
  EXPECT_THAT(bench.told, Not(::testing::Contains("disinfect done"))) << said;
  EXPECT_THAT(said, HasSubstr("Wet for 10 min of 1 h; flood again within 30 min"));
}

TEST(Turnover, BrokenOffInTheMiddleItGoesOnThereAndFloodsOfTheStepBeforeAreNoRinses) {
  Bench bench;
  bench.run(kUntilBleach + times_of(kFlood, 5) + kFlood);  // one of two rinses
  EXPECT_EQ(bench.told.back(), "disinfect done");
  bench.now += 20 * 60 * kMinuteMs;
  const std::string said = bench.run("yes\n" + kFlood);
  EXPECT_EQ(bench.told.back(), "end done") << said;
  EXPECT_THAT(said, HasSubstr("goes on where it was left"));
  EXPECT_THAT(said, HasSubstr("rinse 2"));
  EXPECT_EQ(bench.count("flood", "start"), 7);
}

TEST(Turnover, WhoeverEntersAStageMeanwhileIsToldBeforeAnythingFloods) {
  Bench bench;
  bench.run("yes\n\nyes\n");
  bench.stage = "leafing";
  EXPECT_THAT(bench.run("yes\nyes\n"), HasSubstr("stage leafing is in force"));
  EXPECT_EQ(bench.count("flood", "start"), 0);
}

TEST(Turnover, AStageEnteredInTheMiddleOfItIsSeenBeforeTheFlood) {
  Bench bench;
  bench.tent.tell = [&bench, tell = bench.tent.tell](auto step, auto mark, auto figure,
                                                     const std::string& says) {
    tell(step, mark, figure, says);
    if (step == "empty") bench.stage = "leafing";
  };
  EXPECT_THAT(bench.run(kUntilBleach + kFlood), HasSubstr("stage leafing is in force"));
  EXPECT_EQ(bench.count("flood", "start"), 0);
}

TEST(Turnover, AFloodThatNobodyWatchesAnyMoreIsStopped) {
  Bench bench;
  bench.run(kUntilBleach + "yes\n");  // the answers end while the water runs
  EXPECT_EQ(bench.count("flood", "start"), 1);
  EXPECT_EQ(bench.count("flood", "stop"), 1);
  Bench wet;
  wet.run(kUntilBleach + "yes\nleak\nstop\n");
  EXPECT_EQ(wet.count("flood", "stop"), 1) << "water where it should not be";
}

TEST(Turnover, AFloodUnderWayIsJoinedAndNotYetLetsItRun) {
  Bench bench;
  bench.phase = "drain";
  EXPECT_THAT(bench.run(kUntilBleach + "wait\ndrained\n"), HasSubstr("neapd is at: drain"));
  EXPECT_EQ(bench.count("flood", "start"), 0);
  EXPECT_EQ(bench.count("flood", "stop"), 1) << "the answers ended";
}

TEST(Turnover, AStopThatNeapdRefusesDoesNotHideWhyTheWalkEnded) {
  Bench bench;
  bench.stop_refused = true;
  const std::string said = bench.run(kUntilBleach + "yes\nstop\n");
  EXPECT_THAT(said, HasSubstr("no flood runs"));
  EXPECT_THAT(said, HasSubstr("stopped at question"));
}

TEST(Turnover, TheContactIsReachedOverTheRealMinGap) {
  Bench bench;
  bench.tent.min_gap = minutes{40};
  bench.pause_min = 42;
  // 10 + 42 + 10 = 62 min.
  const std::string said = bench.run(kUntilBleach + times_of(kFlood, 2) + times_of(kFlood, 2));
  EXPECT_EQ(bench.told.back(), "end done") << said;
  EXPECT_EQ(turnover_of(bench.diary).told("disinfect")->figure, 62);
}

TEST(Turnover, AFloodTooSoonIsWaitedForByTheClock) {
  Bench bench;
  bench.tent.min_gap = minutes{40};
  bench.pause_min = 42;
  bench.too_soon = true;
  const std::string said =
      bench.run(kUntilBleach + "yes\n\n" + times_of(kFlood, 2) + times_of(kFlood, 2));
  EXPECT_EQ(bench.told.back(), "end done") << said;
  EXPECT_THAT(said, HasSubstr("from noon and 60 min"));  // 30 gone, rested 10 of 40
}

TEST(Turnover, WithoutTheEmptyingThereIsNoBleach) {
  Bench bench;
  bench.run("yes\n\nno\nskip\nlazy\nno\nskip\nnothing to rinse\n");
  EXPECT_EQ(bench.count("flood", "start"), 0);
  EXPECT_EQ(bench.told.back(), "end done");
  EXPECT_EQ(turnover_of(bench.diary).told("disinfect")->mark, "skipped");
}

TEST(Turnover, OnceBleachWasFloodedTheRinseCannotBeLeftOut) {
  Bench bench;
  const std::string said = bench.run(kUntilBleach + kFlood + "no\nskip\nno time\nno\nskip\nx\n");
  EXPECT_THAT(said, HasSubstr("it cannot be left out"));
  EXPECT_THAT(said, Not(HasSubstr("grow start")));
  EXPECT_EQ(bench.told.back(), "disinfect skipped");
  EXPECT_TRUE(turnover_of(bench.diary).wants_rinse());
  bench.now += 400 * 24 * 60 * kMinuteMs;
  EXPECT_THAT(bench.run("yes\n" + times_of(kFlood, 2)), HasSubstr("Left out: disinfect"));
  EXPECT_EQ(bench.told.back(), "end done");
}

TEST(Turnover, FloodsThatTheWalkDidNotStartDoNotCount) {
  Bench bench;
  bench.tent.tell = [&bench, tell = bench.tent.tell](auto step, auto mark, auto figure,
                                                     const std::string& says) {
    tell(step, mark, figure, says);
    if (step != "empty") return;
    for (int i = 0; i < 6; ++i, bench.now += 15 * kMinuteMs)
      bench.floods.push_back({bench.now, bench.now + 10 * kMinuteMs});
  };
  bench.run(kUntilBleach);
  EXPECT_EQ(bench.told.back(), "empty done");
}

TEST(Turnover, AnOldOneBeginsAnewAndAGrowStartedSinceEndsIt) {
  Bench bench;
  bench.run("yes\n\n");
  bench.now += 60 * 24 * 60 * kMinuteMs;
  EXPECT_THAT(bench.run("\nyes\n"), HasSubstr("begun 60 d"));
  EXPECT_EQ(bench.told.back(), "begin done");
  journal::DiaryRow grow;
  grow.kind = "grow_started";
  grow.happened.unix_ms = bench.now + 1;
  bench.diary.push_back(grow);
  EXPECT_FALSE(turnover_of(bench.diary).under_way);
}

TEST(Turnover, ResumedOverPlantsThatStandThereItFloodsNothing) {
  Bench bench;
  bench.run(kUntilBleach);
  EXPECT_THAT(bench.run("no\n"), HasSubstr("plants are in the tent"));
  EXPECT_EQ(bench.count("flood", "start"), 0);
}

TEST(Turnover, ProofsThatNobodyAskedForAreNotCalledDone) {
  Bench bench;
  bench.proofs_asked = false;
  bench.run(kUntilBleach + times_of(kFlood, 7));
  EXPECT_EQ(turnover_of(bench.diary).told("proofs")->says, "none asked for");
  EXPECT_EQ(turnover_of(bench.diary).told("proofs")->mark, "skipped");
}

TEST(Turnover, AGrowIsNotEndedWhereTheFallowStageIsRefused) {
  Bench bench;
  bench.tent.grow = "june";
  bench.run("yes\nno\n");
  EXPECT_FALSE(bench.grow_ended);
}

TEST(Interrupt, ALostSessionIsOneToo) {
  for (const int number : {SIGINT, SIGHUP, SIGTERM}) {
    const Interrupt interrupt;
    EXPECT_FALSE(Interrupt::came());
    std::raise(number);
    EXPECT_TRUE(Interrupt::came());
  }
}

TEST(Turnover, WhatIsLeftOutIsToldWithItsReason) {
  Bench bench;
  bench.calibrated_at = kNoonUnixMs - kMinuteMs;  // before it began
  bench.proven_at = bench.calibrated_at;
  const std::string said = bench.run(
      "yes\nnone\nskip\nI have one\nyes\n\n\nno\nskip\nnew tray\nno\nskip\nnew tray\n"
      "no\nskip\nno buffers\nno\nskip\ntomorrow\n");
  EXPECT_THAT(said, HasSubstr("Not calibrated since the turnover began: ph."));
  EXPECT_EQ(bench.told.back(), "end done") << said;
  const auto steps = turnover_steps(turnover_of(bench.diary));
  EXPECT_EQ(steps[0].mark, "skipped");
  EXPECT_EQ(steps[0].says, "I have one");
  EXPECT_EQ(steps[4].says, "no buffers");
  EXPECT_EQ(steps[6].mark, "done");
}

TEST(Turnover, WithoutAFallowStageItDoesNotBegin) {
  Bench bench;
  bench.tent.fallow_stage.clear();
  EXPECT_THAT(bench.run("yes\n"), HasSubstr("add a stage with `fallow: true`"));
  EXPECT_TRUE(bench.told.empty());
  EXPECT_TRUE(bench.asked.empty());
}

TEST(Turnover, AGrowThatIsNotOverKeepsEverythingAsItIs) {
  Bench bench;
  bench.tent.grow = "june";
  EXPECT_THAT(bench.run("no\n"), HasSubstr("grow june is under way"));
  EXPECT_FALSE(bench.grow_ended);
  EXPECT_TRUE(bench.asked.empty());
}

TEST(TurnoverVerb, ListsItsStepsOverAPageAndATelephoneWithoutADaemon) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) {
    const auto put = [&](const char* id, std::int64_t ms, const char* step, const char* mark) {
      writer.put(journal::DiaryEntry{
          tent.at(kNoonUnixMs), id, kNoonUnixMs - ms, "turnover", step, {}, mark, "in words"});
    };
    put("old", 9000, "archive", "done");
    put("a", 5000, "begin", "done");
    put("b", 4000, "archive", "skipped");
  });
  const testing::Said said = tent.run({"turnover", "list"});
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(said.out, HasSubstr("archive    skipped  in words\nempty      to do"));
  EXPECT_LE(testing::widest(tent.run({"turnover", "list", "--narrow"}).out), kPhoneWidth);
  EXPECT_TRUE(json::parse(tent.run({"turnover", "list", "--json"}).out)["under_way"]);
  const testing::Said walk = tent.run({"turnover"}, "on\nyes\nyes\n");
  EXPECT_EQ(walk.code, kExitNoDaemon) << walk.out << walk.err;
  const testing::Said start = tent.run({"grow", "start", "july"});
  EXPECT_EQ(start.code, kExitRefused);
  EXPECT_THAT(start.err, HasSubstr("finish it first: neap turnover"));
}

}  // namespace
}  // namespace neap::client
