// Goal: a turnover goes step by step with a person who confirms each, may be broken off and taken
// up again, floods nothing but by hand, and tells what was left out.
#include "daemon/client/turnover.h"

#include "daemon/client/interrupt.h"
#include "tests/client/told.h"
#include "tests/client/turnover_bench.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using testing::json;
using testing::kFlood;
using testing::kMinuteMs;
using testing::kNoonUnixMs;
using testing::kUntilBleach;
using testing::times_of;
using testing::ToldTent;
using Bench = testing::TurnoverBench;

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

TEST(Turnover, AGrowIsNotEndedWhereTheFallowStageCannotBeEntered) {
  Bench bench;
  bench.tent.grow = "june";
  bench.stage_refused = true;
  EXPECT_THAT(bench.run("yes\nyes\n"), HasSubstr("no daemon"));
  EXPECT_FALSE(bench.grow_ended);
  EXPECT_TRUE(bench.told.empty());
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
      "yes\nnone\nskip\nI have one\nyes\n\n\nno\nno\nskip\nnew tray\nno\nskip\nnew tray\n"
      "no\nskip\nno buffers\nno\nskip\ntomorrow\n");
  EXPECT_THAT(said, HasSubstr("Not calibrated since the turnover began: ph."));
  EXPECT_EQ(bench.told.back(), "end done") << said;
  const auto steps = turnover_steps(turnover_of(bench.diary));
  EXPECT_EQ(steps[0].told->mark, "skipped");
  EXPECT_EQ(steps[0].told->says, "I have one");
  EXPECT_EQ(steps[4].told->says, "no buffers");
  EXPECT_EQ(steps[6].told->mark, "done");
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
  EXPECT_THAT(said.out, HasSubstr("Turnover begun 2026-06-01 13:59, under way"));
  EXPECT_THAT(said.out, HasSubstr("  3  archive    skipped  in words\n     empty      to do"));
  EXPECT_LE(testing::widest(tent.run({"turnover", "list", "--narrow"}).out), kPhoneWidth);
  EXPECT_TRUE(json::parse(tent.run({"turnover", "list", "--json"}).out)["under_way"]);
  const testing::Said walk = tent.run({"turnover"}, "on\nyes\nyes\n");
  EXPECT_EQ(walk.code, kExitNoDaemon) << walk.out << walk.err;
  const testing::Said start = tent.run({"grow", "start", "july"});
  EXPECT_EQ(start.code, kExitRefused);
  EXPECT_THAT(start.err, HasSubstr("finish it first: neap turnover"));
}

// Ended by its own last step, by a grow, and not after that end was taken back.
TEST(TurnoverVerb, ListTellsThatItIsOverAndTheNumberOfEachStep) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) {
    const auto put = [&](const char* id, std::int64_t ms, const char* kind, const char* subject,
                         std::optional<double> figure) {
      writer.put(journal::DiaryEntry{tent.at(kNoonUnixMs), id, kNoonUnixMs - ms, kind, subject,
                                     figure, "done", ""});
    };
    put("a", 7'200'000, "turnover", "begin", {});
    put("b", 4'000'000, "turnover", "disinfect", 71);
    put("c", 3'600'000, "turnover", "end", {});
    put("d", 1000, "grow_started", "july", {});
  });
  const auto list = [&] { return json::parse(tent.run({"turnover", "list", "--json"}).out); };
  EXPECT_THAT(tent.run({"turnover", "list"}).out,
              AllOf(HasSubstr("begun 2026-06-01 12:00, over since 2026-06-01 13:00.\n"),
                    HasSubstr("  2  disinfect  done   71 min wet\n")));
  json told = list();
  EXPECT_FALSE(told["under_way"]);
  EXPECT_EQ(told["began"]["number"], 1);
  EXPECT_EQ(told["ended"]["number"], 3);
  EXPECT_EQ(told["steps"][2]["told"]["figure"], 71);
  EXPECT_TRUE(told["steps"][0]["told"].is_null());
  tent.journal([&](journal::Writer& writer) {
    writer.put(journal::DiaryEntry{
        tent.at(kNoonUnixMs), "e", kNoonUnixMs, "withdrawal", "c", {}, "", "not yet"});
  });
  EXPECT_THAT(tent.run({"turnover", "list"}).out, HasSubstr("when grow july"));
}

}  // namespace
}  // namespace neap::client
