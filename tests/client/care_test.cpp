// Goal: care counters count what the journal has, from when a person last saw to the part, and are
// told where a person looks; the looks of a week are asked for and kept.
#include "daemon/client/care.h"

#include "daemon/client/looks.h"
#include "tests/client/told.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using testing::json;
using testing::kDayMs;
using testing::kNoonUnixMs;
using ::testing::Not;
using testing::Said;
using testing::ToldTent;
using testing::widest;

constexpr std::int64_t kHourMs = 3'600'000;

void actuate(journal::Writer& writer, const ToldTent& tent, std::int64_t unix_ms, Output output,
             int level) {
  journal::EventEntry entry{tent.at(unix_ms), {}};
  entry.event.kind = EventKind::actuation;
  entry.event.output = output;
  entry.event.level = Permille{level};
  writer.put(entry);
}

void flood(journal::Writer& writer, const ToldTent& tent, std::int64_t unix_ms) {
  journal::EventEntry entry{tent.at(unix_ms), {}};
  entry.event.kind = EventKind::cycle_closed;
  entry.event.cycle.started_tick = tick_ms(entry.tick);
  entry.event.cycle.outcome = FloodOutcome::complete;
  writer.put(entry);
}

void day(journal::Writer& writer, const ToldTent& tent, std::int64_t began, double fan_hours) {
  journal::EventEntry closed{tent.at(began + kDayMs), {}};
  closed.event.kind = EventKind::day_closed;
  closed.event.day.began_tick = tick_ms(tent.at(began));
  closed.event.day.date = static_cast<std::int32_t>(began / kDayMs);
  closed.event.day.fan_hours = fan_hours;
  closed.event.day.pump_on = hours{2};
  writer.put(closed);
}

// Ten days; the fan at half, so 12 h a day, but the daemon booked 11 of the whole ones; light 16 h.
void ten_days(journal::Writer& writer, const ToldTent& tent) {
  const std::int64_t start = kNoonUnixMs - 10 * kDayMs;
  actuate(writer, tent, start, Output::exhaust_fan, 500);
  for (int i = 0; i < 10; ++i) {
    actuate(writer, tent, start + i * kDayMs, Output::light, 1000);
    actuate(writer, tent, start + i * kDayMs + 16 * kHourMs, Output::light, 0);
    for (int n = 0; n < 4; ++n) flood(writer, tent, start + i * kDayMs + (2 + 4 * n) * kHourMs);
    if (i < 9) day(writer, tent, start + i * kDayMs, 11);
  }
  actuate(writer, tent, kNoonUnixMs, Output::circulation_fan, 0);  // the newest entry
}

json part(const json& shown, const std::string& name) {
  for (const json& row : shown["care"])
    if (row["part"] == name) return row;
  return {};
}

TEST(Care, RunningIsCountedByTheDaemonsDaysAndByActuationsAroundThem) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { ten_days(writer, tent); });
  const Said said = tent.run({"care", "--json"});
  ASSERT_EQ(said.code, kExitDone) << said.err;
  const json shown = json::parse(said.out);
  EXPECT_NEAR(part(shown, "filter")["used"].get<double>(), 9 * 11 + 12, 1e-6);
  EXPECT_NEAR(part(shown, "light")["used"].get<double>(), 160, 1e-6);
  EXPECT_EQ(part(shown, "strainer")["used"], 40.0);
  EXPECT_TRUE(part(shown, "strainer")["is_due"]) << "28 by default";
  EXPECT_NEAR(part(shown, "pump")["used"].get<double>(), 18, 1e-6);
  EXPECT_EQ(part(shown, "bucket")["due"], nullptr) << "no reminder of its own accord";
  EXPECT_EQ(part(shown, "strainer")["last"], nullptr);
}

TEST(Care, APartThatWasSeenToCountsFromThereAndInTheMiddleOfADay) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) {
    ten_days(writer, tent);
    const std::int64_t when = kNoonUnixMs - 2 * kDayMs + 7 * kHourMs;
    for (const char* name : {"filter", "strainer", "light"})
      writer.put(
          journal::DiaryEntry{tent.at(kNoonUnixMs), name, when, "care", name, {}, "", "new"});
  });
  const json shown = json::parse(tent.run({"care", "--json"}).out);
  // 17 h of the day before last by actuations at half, and 24 h of the last likewise.
  EXPECT_NEAR(part(shown, "filter")["used"].get<double>(), 20.5, 1e-6);
  EXPECT_NEAR(part(shown, "light")["used"].get<double>(), 9 + 16, 1e-6);
  EXPECT_EQ(part(shown, "strainer")["used"], 6.0);
  EXPECT_FALSE(part(shown, "strainer")["is_due"]);
  EXPECT_EQ(part(shown, "filter")["says"], "new");
}

TEST(Care, AStopOfTheDaemonStopsTheCountOfWhatItDrove) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) {
    actuate(writer, tent, kNoonUnixMs - 10 * kHourMs, Output::light, 1000);
    writer.put(journal::StopEntry{tent.at(kNoonUnixMs - 8 * kHourMs), "asked"});
    writer.put(journal::BootEntry{tent.at(kNoonUnixMs - 6 * kHourMs), "0.1.0", true});
    actuate(writer, tent, kNoonUnixMs - 5 * kHourMs, Output::light, 1000);
    actuate(writer, tent, kNoonUnixMs, Output::circulation_fan, 0);
  });
  const json shown = json::parse(tent.run({"care", "--json"}).out);
  EXPECT_NEAR(part(shown, "light")["used"].get<double>(), 2 + 5, 1e-6);
}

TEST(Care, WhatIsDueIsToldInCheckInAndReportAndIsOverOnceItIsDone) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { ten_days(writer, tent); });
  const std::string due = "Due: intake strainer: clean it (40 of";
  EXPECT_THAT(tent.run({"check-in"}, "\n\n\n\n\n").out, HasSubstr(due));
  EXPECT_THAT(tent.run({"report"}).out, HasSubstr("intake strainer: clean it (40 of 28 floods)"));
  const Said done = tent.run({"care", "done", "strainer", "full", "of", "roots"});
  EXPECT_EQ(done.code, kExitDone) << done.err;
  EXPECT_EQ(tent.spooled(), 1u);
  EXPECT_THAT(tent.run({"check-in"}, "\n\n\n\n\n").out, Not(HasSubstr("strainer")));
}

TEST(Care, APartThatIsNoneIsRefusedWithTheNearest) {
  ToldTent tent;
  const Said said = tent.run({"care", "done", "filtre"});
  EXPECT_EQ(said.code, kExitUsage);
  EXPECT_THAT(said.err, HasSubstr("did you mean \"filter\"?"));
  EXPECT_EQ(tent.run({"care", "undo"}).code, kExitUsage);
  EXPECT_EQ(tent.run({"care", "done"}).code, kExitUsage);
  EXPECT_EQ(tent.spooled(), 0u);
}

TEST(Care, EveryPageFitsAPageAndATelephone) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { ten_days(writer, tent); });
  EXPECT_LE(widest(tent.run({"care"}).out), kPageWidth);
  EXPECT_LE(widest(tent.run({"care", "--narrow"}).out), kPhoneWidth);
  EXPECT_LE(widest(tent.run({"weekly", "list", "--narrow"}).out), kPhoneWidth);
  EXPECT_LE(widest(tent.run({"weekly"}, "y\n\n\n\n\n\n\n").out), kPageWidth);
}

TEST(WeeklyLooks, EachAnswerIsKeptAndTroubleIsToldBesideTheNextLook) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { ten_days(writer, tent); });
  EXPECT_THAT(tent.run({"check-in"}, "\n\n\n\n\n").out, HasSubstr("weekly looks: neap weekly"));
  const Said first = tent.run({"weekly"}, "brown tips\ny\n\nwell\ny\nyes\ny\n");
  ASSERT_EQ(first.code, kExitDone) << first.err;
  EXPECT_THAT(first.out, HasSubstr("Noted, and to see to:\nroots: brown tips\n"));
  EXPECT_EQ(tent.spooled(), 6u) << "one was skipped";
  EXPECT_THAT(tent.run({"check-in"}, "\n\n\n\n\n").out, HasSubstr("neap weekly (1 due, "));
  EXPECT_THAT(tent.run({"weekly", "list"}).out,
              AllOf(HasSubstr("brown tips"), HasSubstr("salt      never")));
  EXPECT_THAT(tent.run({"weekly"}, "\n\n\n\n\n\n\n").out,
              AllOf(HasSubstr("brown tips"), HasSubstr("Nothing was noted.")));
  tent.run({"weekly"}, "\n\ny\n\n\n\n\n");
  EXPECT_THAT(tent.run({"check-in"}, "\n\n\n\n\n").out, Not(HasSubstr("weekly looks")));
}

TEST(WeeklyLooks, OneLookAloneDoesNotSilenceTheOthers) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) {
    ten_days(writer, tent);
    for (const WeeklyLook& look : kWeeklyLooks)
      writer.put(journal::DiaryEntry{tent.at(kNoonUnixMs),
                                     std::string(look.name),
                                     kNoonUnixMs - 9 * kDayMs,
                                     "look",
                                     std::string(look.name),
                                     {},
                                     "well",
                                     ""});
  });
  const auto due = [&] { return tent.run({"check-in"}, "\n\n\n\n\n").out; };
  EXPECT_THAT(due(), HasSubstr("weekly looks: neap weekly (7 due, 9"));
  tent.run({"weekly"}, "y\n\n\n\n\n\n\n");
  EXPECT_THAT(due(), HasSubstr("weekly looks: neap weekly (6 due, 9"));
  tent.run({"weekly"}, "\ny\ny\ny\ny\ny\ny\n");
  EXPECT_THAT(due(), Not(HasSubstr("weekly looks")));
}

TEST(WeeklyLooks, WellIsWellInCapitalsTooAndAnAnswerThatSaysTooLittleIsAskedAgain) {
  ToldTent tent;
  const Said said = tent.run({"weekly"}, "Y\nOK\n Yes \nGood\nFINE\nno\nnothing\nN\nMites\nwell\n");
  ASSERT_EQ(said.code, kExitDone) << said.err;
  std::size_t asked = 0;
  for (std::size_t at = 0; (at = said.out.find("what do you see?", at)) != std::string::npos; ++at)
    ++asked;
  EXPECT_EQ(asked, 3u) << said.out;
  std::string marks;
  const json seen = json::parse(tent.run({"weekly", "list", "--json"}).out);
  for (const json& look : seen["looks"])
    marks +=
        look["last"]["mark"].get<std::string>() + look["last"]["says"].get<std::string>() + " ";
  EXPECT_EQ(marks, "well well well well well troubleMites well ");
}

TEST(Care, AnEntryIsWithdrawnByItsNumberAndTheCountIsAsBefore) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) {
    ten_days(writer, tent);
    for (const char* id : {"old", "new"}) {
      const std::int64_t when = kNoonUnixMs - (*id == 'o' ? 4 : 2) * kDayMs;
      writer.put(
          journal::DiaryEntry{tent.at(kNoonUnixMs), id, when, "care", "strainer", {}, "", id});
    }
  });
  const json before = part(json::parse(tent.run({"care", "--json"}).out), "strainer");
  EXPECT_EQ(before["used"], 8.0);
  ASSERT_EQ(before["number"], 2);
  const Said said = tent.run({"care", "withdraw", "2", "the", "wrong", "one"});
  ASSERT_EQ(said.code, kExitDone) << said.err;
  const json after = part(json::parse(tent.run({"care", "--json"}).out), "strainer");
  EXPECT_EQ(after["used"], 16.0);
  EXPECT_EQ(after["number"], 1);
}

// Whoever looks is told, asked for or not.
TEST(Care, WhatIsDueStandsInTheBriefAndOnThePage) {
  ToldTent tent;
  tent.journal([&](journal::Writer& writer) { ten_days(writer, tent); });
  EXPECT_THAT(tent.run({}).out, HasSubstr("- air stone: change it ("));
  EXPECT_THAT(tent.run({"status"}).out, HasSubstr("Care is due: air stone: change it ("));
  const auto due = [&] { return json::parse(tent.run({"status", "--json"}).out)["care"].size(); };
  EXPECT_EQ(due(), 3u) << "air stone, strainer and looks";
  tent.journal([&](journal::Writer& writer) {
    writer.put(journal::DiaryEntry{
        tent.at(kNoonUnixMs), "new", kNoonUnixMs - kDayMs, "care", "air_stone", {}, "", ""});
  });
  EXPECT_EQ(due(), 2u);
}

TEST(WeeklyLooks, AnswersThatEndKeepWhatWasAnswered) {
  ToldTent tent;
  const Said said = tent.run({"weekly"}, "y\ny\n");
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_THAT(said.err, HasSubstr("what was answered is noted"));
  EXPECT_EQ(tent.spooled(), 2u);
}

}  // namespace
}  // namespace neap::client
