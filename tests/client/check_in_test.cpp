// Goal: a check-in takes what a person has and asks again for what cannot be; work at the tent
// holds floods, and ends with its figures.
#include "daemon/client/check_in.h"

#include <atomic>
#include <filesystem>

#include "daemon/journal/journal.h"
#include "tests/client/told.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using testing::FakeDaemon;
using ::testing::HasSubstr;
using testing::json;
using testing::neap;
using testing::Said;

std::vector<json> asked(std::vector<std::string> words, const std::string& typed, int times,
                        Said& said) {
  std::vector<json> seen;
  {
    const FakeDaemon daemon(
        [&](const json& request) {
          seen.push_back(request);
          return FakeDaemon::success(request, json::object());
        },
        times);
    words.insert(words.end(), {"--socket", daemon.path(), "--journal", "/nowhere/j"});
    said = neap(words, {}, false, typed);
  }
  return seen;
}

// A daemon that answers the first request and is gone.
Said asked_one_that_leaves(const testing::ToldTent& tent, const std::vector<std::string>& words,
                           const std::string& typed) {
  std::string socket;
  const FakeDaemon daemon([&](const json& request) {
    std::filesystem::remove(socket);
    return FakeDaemon::success(request, json::object());
  });
  socket = daemon.path();
  return tent.run(words, typed, socket);
}

TEST(CheckIn, AsksForEachAndSkipsWhatIsLeftEmpty) {
  Said said;
  const auto seen = asked({"check-in"}, "5.9\n1.6\n\n38\nroots are white\n", 1, said);
  ASSERT_EQ(said.code, kExitDone) << said.err;
  ASSERT_EQ(seen.size(), 1u);
  EXPECT_EQ(seen[0]["args"]["values"], (json{{"ph", 5.9}, {"ec", 1.6}, {"level_l", 38}}));
  EXPECT_EQ(seen[0]["args"]["note"], "roots are white");
  EXPECT_THAT(said.out, HasSubstr("Noted: pH 5.90, EC 1.60 mS/cm, level 38.0 L.\n"));
}

TEST(CheckIn, WhatIsToldInMidFloodIsFlaggedAndStandsBesideItsProbe) {
  const FakeDaemon daemon([](const json& request) {
    return FakeDaemon::success(request, {{"flood", "soak"}, {"probes", {{"ph", 6.05}}}});
  });
  const Said said = neap({"check-in", "--socket", daemon.path(), "--journal", "/nowhere/j"}, {},
                         false, "5.9\n\n\n\n\n");
  EXPECT_THAT(said.out, AllOf(HasSubstr("The probe for pH shows 6.05: 0.15 over the hand."),
                              HasSubstr("A flood is under way (soak)")));
}

TEST(CheckIn, ARemarkThatIsNoTextIsAskedForAgain) {
  Said said;
  const auto seen = asked({"check-in"}, "5.9\n\n\n\n\xff\nwhite\n", 1, said);
  ASSERT_EQ(seen.size(), 1u) << said.err;
  EXPECT_EQ(seen[0]["args"]["note"], "white");
}

TEST(CheckIn, AFigureThatCannotBeIsAskedForAgain) {
  Said said;
  const auto seen = asked({"check-in"}, "59\n5.9\n1600\n1600uS\n\n\n\n", 1, said);
  ASSERT_EQ(seen.size(), 1u) << said.err;
  EXPECT_EQ(seen[0]["args"]["values"], (json{{"ph", 5.9}, {"ec", 1.6}}));
  EXPECT_THAT(said.out, AllOf(HasSubstr("did you mean ph=5.9?"), HasSubstr("is it uS/cm?")));
}

TEST(CheckIn, WithoutADaemonItWaitsInTheSpool) {
  const testing::Directory directory;
  std::filesystem::create_directory(directory.file("spool"));
  const Said said = neap({"check-in", "--socket", "/nowhere/s", "--journal", "/nowhere/j",
                          "--state-dir", directory.path().string()},
                         {}, false, "5.9\n\n\n\n\n");
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(said.out, HasSubstr("No daemon runs; kept for it: pH 5.90."));
  EXPECT_FALSE(std::filesystem::is_empty(directory.file("spool")));
}

TEST(CheckIn, AnswersThatEndNoteNothing) {
  const Said said = neap({"check-in", "--socket", "/nowhere/s"}, {}, false, "5.9\n");
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_THAT(said.err, HasSubstr("begin again; nothing was noted"));
}

TEST(CheckIn, ARemarkWithoutFiguresIsNotedInTheDiary) {
  Said said;
  const auto seen = asked({"check-in"}, "\n\n\n\nroots brown, smell\n", 1, said);
  ASSERT_EQ(seen.size(), 1u) << said.err;
  EXPECT_EQ(seen[0]["verb"], "diary");
  EXPECT_EQ(seen[0]["args"]["kind"], "remark");
  EXPECT_EQ(seen[0]["args"]["subject"], "check-in");
  EXPECT_EQ(seen[0]["args"]["says"], "roots brown, smell");
  EXPECT_THAT(said.out, HasSubstr("Nothing was measured.\nNoted: the remark.\n"));
}

TEST(CheckIn, ARemarkWithoutFiguresIsANoteOfTheGrowUnderWay) {
  testing::ToldTent tent;
  tent.journal([&](journal::Writer& writer) {
    const std::int64_t began = testing::kNoonUnixMs - testing::kDayMs;
    writer.put(journal::DiaryEntry{tent.at(began), "a", began, "grow_started", "may", {}, "", ""});
  });
  const Said said = tent.run({"check-in"}, "\n\n\n\nroots brown\n");
  EXPECT_THAT(said.out, HasSubstr("kept for it: the remark, with grow may."));
  EXPECT_THAT(tent.run({"grow", "show", "--json"}).out, HasSubstr("roots brown"));
}

TEST(CheckIn, ARemarkOfNoGrowStandsBesideTheNextQuestion) {
  testing::ToldTent tent;
  tent.journal([](journal::Writer&) {});
  tent.run({"check-in"}, "\n\n\n\nroots brown\n");
  EXPECT_THAT(tent.run({"check-in"}, "\n\n\n\n\n").out,
              HasSubstr("Anything to remember (last \"roots brown\", 2026-06-01 14:00):"));
}

TEST(CheckIn, ARemarkThatCannotBeKeptIsSaidToBeLost) {
  const Said said = neap(
      {"check-in", "--socket", "/nowhere/s", "--journal", "/nowhere/j", "--state-dir", "/nowhere"},
      {}, false, "\n\n\n\nroots brown\n");
  EXPECT_THAT(said.out, HasSubstr("Not kept: the remark: no daemon runs"));
  EXPECT_LE(testing::widest(said.out), kPageWidth);
}

TEST(CheckIn, TheLastStandsBesideEachQuestion) {
  const testing::Directory directory;
  {
    journal::Options options;
    options.path = directory.file("journal.db");
    options.durability = journal::Durability::simulated;
    const auto writer = journal::Writer::open(options);
    const Instant at = instant(Millis{4294967000});
    writer->put(journal::ClockEntry{at, {testing::kNoonUnixMs, 7200, TimeQuality::synced}});
    writer->put(journal::MeasurementEntry{at, "a/ph", testing::kNoonUnixMs, "ph", 5.8, "", ""});
    writer->flush();
  }
  const Said said = neap({"check-in", "--socket", "/nowhere/s", "--journal",
                          directory.file("journal.db"), "--state-dir", "/nowhere"},
                         {}, false, "\n\n\n\n\n");
  EXPECT_THAT(said.out, HasSubstr("pH (last 5.80, 2026-06-01 14:00):"));
  EXPECT_THAT(said.out, HasSubstr("Nothing was measured."));
}

TEST(ServiceJobs, AChangeHoldsFloodsAndEndsWithItsFigures) {
  Said said;
  const auto seen =
      asked({"service", "change", "for", "50m"}, "\n60\n5.8\n1.5\n20\n58\n\n", 4, said);
  ASSERT_EQ(said.code, kExitDone) << said.err;
  ASSERT_EQ(seen.size(), 4u);
  EXPECT_EQ(seen[0]["args"], (json{{"action", "begin"}, {"for_s", 3000.0}}));
  EXPECT_EQ(seen[1]["verb"], "status");
  EXPECT_EQ(seen[2]["verb"], "measure");
  EXPECT_EQ(seen[2]["args"]["values"]["change_l"], 60);
  EXPECT_EQ(seen[2]["args"]["note"], "service change");
  EXPECT_EQ(seen[3]["args"]["action"], "end");
}

// When what is told by `verb` happened; the service began at noon, and the work took 40 min.
std::int64_t minutes_after_noon(const std::string& job, const char* verb, const char* when) {
  std::atomic<std::int64_t> now = testing::kNoonUnixMs;
  json told;
  {
    const FakeDaemon daemon(
        [&](const json& request) {
          if (request["args"].value("action", "") == "begin") now += 40 * 60'000;
          if (request["verb"] == verb) told = request["args"];
          return FakeDaemon::success(request, json::object());
        },
        4);
    neap({"service", job, "--socket", daemon.path(), "--journal", "/nowhere/j"}, {}, false,
         "\n\n5.9\n\n\n\n\n", [&] { return now.load(); });
  }
  return (told.at(when).get<std::int64_t>() - testing::kNoonUnixMs) / 60'000;
}

TEST(ServiceJobs, WhatIsToldIsOfTheMomentAfterTheWork) {
  EXPECT_EQ(minutes_after_noon("topup", "measure", "taken_unix_ms"), 40);
  EXPECT_EQ(minutes_after_noon("clean", "diary", "happened_unix_ms"), 40);
}

TEST(ServiceJobs, NothingIsPouredWhileTheTrayStillHoldsWater) {
  for (const auto& [phase, warned] : {std::pair{"soak", true}, {"drain", true}, {"idle", false}}) {
    const FakeDaemon daemon(
        [&](const json& request) {
          return FakeDaemon::success(request, {{"flood", {{"phase", phase}}}});
        },
        3);
    const Said said =
        neap({"service", "topup", "--socket", daemon.path(), "--journal", "/nowhere/j"}, {}, false,
             "\n\n\n\n\n\n\n");
    const auto warning = said.out.find("the tray still holds water that comes back");
    EXPECT_EQ(warning != std::string::npos, warned) << phase << said.out;
    if (warned) {
      EXPECT_LT(warning, said.out.find("Top up the reservoir"));
    }
  }
}

TEST(ServiceJobs, ARemarkLeavesRoomForWhatIsPutBeforeIt) {
  Said said;
  const std::string note(243, 'x');  // "service topup: " is 15
  const auto seen =
      asked({"service", "topup"}, "\n12\n\n\n\n\n" + note + "\n" + note.substr(2) + "\n", 4, said);
  EXPECT_THAT(said.out, HasSubstr("at most 241 bytes are stored"));
  ASSERT_EQ(seen.size(), 4u) << said.err;
  EXPECT_EQ(seen[2]["args"]["note"].get<std::string>().size(), 256u);
}

TEST(ServiceJobs, ACleaningIsTheCareOfTheStrainerWithAndWithoutFigures) {
  testing::ToldTent tent;
  tent.journal([](journal::Writer&) {});
  for (const auto& [typed, entries] :
       {std::pair{"\n\n\n\n\nhair in it\n", 1u}, {"\n5.9\n\n\n\nhair in it\n", 3u}}) {
    const Said said = asked_one_that_leaves(tent, {"service", "clean"}, typed);
    EXPECT_THAT(said.out,
                HasSubstr("kept for it: the strainer was seen to; it counts from there."));
    EXPECT_EQ(tent.spooled(), entries) << said.out;
    const json care = json::parse(tent.run({"care", "--json"}).out)["care"];
    const auto strainer = std::find_if(care.begin(), care.end(),
                                       [](const json& row) { return row["part"] == "strainer"; });
    ASSERT_NE(strainer, care.end()) << care;
    EXPECT_FALSE((*strainer)["last"].is_null());
  }
}

TEST(ServiceJobs, SaysWhenTheServiceIsOverdue) {
  const testing::ToldTent tent;
  const FakeDaemon daemon(
      [](const json& request) { return FakeDaemon::success(request, json::object()); }, 3);
  const Said said = tent.run({"service", "plants", "for", "40m"}, "\n\n\n\n\n\n", daemon.path());
  EXPECT_THAT(said.out, HasSubstr("an alarm reminds you at 14:40")) << "local time of the demo";
}

TEST(ServiceJobs, ADaemonThatWentAwayMeanwhileHidesNothingOfWhatWasNoted) {
  const testing::ToldTent tent;
  const Said said = asked_one_that_leaves(tent, {"service", "plants"}, "\n5.9\n\n\n\n\n");
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(said.out, AllOf(HasSubstr("kept for it: pH 5.90."), HasSubstr("neapd is down")));
  EXPECT_EQ(tent.spooled(), 1u);
}

TEST(ServiceJobs, OneThatIsBrokenOffSaysThatFloodsStillWait) {
  Said said;
  asked({"service", "topup"}, "", 2, said);
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_THAT(said.err, HasSubstr("the service is still declared and floods wait"));
}

}  // namespace
}  // namespace neap::client
