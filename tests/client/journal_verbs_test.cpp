// Goal: events, readings and report answer from the journal alone, over the time that was asked
// for.
#include "daemon/journal/journal.h"
#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::json;
using testing::lines_of;
using testing::Said;

constexpr std::int64_t kStart = 4294967000;  // ms; no test begins at zero

class JournalVerbs : public ::testing::Test {
 protected:
  JournalVerbs() {
    journal::Options options;
    options.path = directory_.file("journal.db");
    options.durability = journal::Durability::simulated;
    const auto writer = journal::Writer::open(options);
    // 2026-06-01 14:00 local at kStart, and two hours of entries.
    writer->put(journal::ClockEntry{instant(Millis{kStart}),
                                    {testing::kNoonUnixMs, 7200, TimeQuality::synced}});
    for (int minute = 0; minute <= 120; minute += 10) {
      const Instant at = instant(Millis{kStart} + minutes{minute});
      const bool silent = minute == 110;
      writer->put(journal::ReadingEntry{
          at, Point::canopy_temperature,
          silent ? std::nullopt : std::optional<double>(20 + minute / 10),
          silent ? Quality::bad : Quality::good, silent ? Fault::no_answer : Fault::none});
    }
    put_event(*writer, minutes{5}, EventKind::latch_set);
    put_event(*writer, minutes{100}, EventKind::latch_reset);
    writer->flush();
  }
  static void put_event(journal::Writer& writer, Millis after, EventKind kind) {
    Event event;
    event.kind = kind;
    event.latch = Latch::leak;
    writer.put(journal::EventEntry{instant(Millis{kStart} + after), event});
  }
  Said ask(std::vector<std::string> words) {
    words.insert(words.end(), {"--journal", directory_.file("journal.db"), "--settings",
                               places::in_project("config/demo.yaml")});
    return testing::neap(words);
  }
  testing::Directory directory_;
};

TEST_F(JournalVerbs, EventsAreALineEachInLocalTime) {
  EXPECT_THAT(lines_of(ask({"events"}).out), ElementsAre("2026-06-01 14:05:00  latch leak set",
                                                         "2026-06-01 15:40:00  latch leak reset"));
}

TEST_F(JournalVerbs, SinceCountsBackFromTheNewestEntryOrNamesATime) {
  const auto newer = ElementsAre("2026-06-01 15:40:00  latch leak reset");
  EXPECT_THAT(lines_of(ask({"events", "--since", "1h"}).out), newer);
  EXPECT_THAT(lines_of(ask({"events", "--since", "2026-06-01T15:00"}).out), newer);
  EXPECT_THAT(lines_of(ask({"events", "--since", "3h"}).out), ::testing::SizeIs(2));
  EXPECT_THAT(lines_of(ask({"events", "--kind", "latch_set"}).out), ::testing::SizeIs(1));
  EXPECT_EQ(ask({"events", "--since", "5min"}).out, "No such events in that time.\n");
}

TEST_F(JournalVerbs, WrongTimesAndKindsAreUsageErrors) {
  EXPECT_EQ(ask({"events", "--since", "2026-02-30"}).err,
            "neap: --since is \"2026-02-30\", which is no date\n"
            "  write 2026-06-01 or 2026-06-01T14:30\n");
  EXPECT_EQ(ask({"events", "--since", "lately"}).err,
            "neap: --since is \"lately\", which is neither a length of time nor a date\n"
            "  write 2h, today, yesterday, lights-on, 07:30, 2026-06-01 or 2026-06-01T14:30\n");
  EXPECT_THAT(
      ask({"events", "--kind", "foo"}).err,
      HasSubstr("the kinds are: actuation, alarm, latch_set, latch_reset,\n  flood, flood_ended,"));
  EXPECT_THAT(ask({"events", "--kind", "alarms"}).err, HasSubstr("did you mean \"alarm\"?"));
  EXPECT_EQ(ask({"events", "--limit", "0"}).code, kExitUsage);
  EXPECT_EQ(ask({"readings", "canopy.temprature"}).code, kExitUsage);
}

TEST_F(JournalVerbs, ReadingsOfAPointSayWhyOneIsMissing) {
  EXPECT_THAT(lines_of(ask({"readings", "canopy.temperature", "--since", "20min"}).out),
              ElementsAre("2026-06-01 15:40:00  30.0 C", "2026-06-01 15:50:00       -  no answer",
                          "2026-06-01 16:00:00  32.0 C"));
}

TEST_F(JournalVerbs, ReadingsMayBeMeans) {
  const json rows = json::parse(
      ask({"readings", "canopy.temperature", "--since", "3h", "--every", "1h", "--json"})
          .out)["readings"];
  // Buckets lie on whole hours of tick: 20 to 25 C, then 26 to 30 C, then 32 C alone.
  ASSERT_EQ(rows.size(), 3u);
  EXPECT_EQ(rows[0]["value"], 22.5);
  EXPECT_EQ(rows[1]["value"], 28.0);
  EXPECT_EQ(rows[2]["value"], 32.0);
}

TEST_F(JournalVerbs, WithoutAPointReadingsAreATableOfAll) {
  EXPECT_THAT(lines_of(ask({"readings"}).out),
              ElementsAre("point               latest  lowest    mean  highest  missing",
                          "canopy.temperature  32.0 C  20.0 C  25.6 C   32.0 C        1"));
}

TEST_F(JournalVerbs, AReportOfAnEmptyTimeSaysWhatThereIs) {
  EXPECT_THAT(ask({"report", "--day", "2026-07-01"}).err,
              HasSubstr("ask for a time from 2026-06-01 14:00:00 to 2026-06-01 16:00:00"));
  const Said said = ask({"report", "--since", "1h", "--json"});
  EXPECT_THAT(said.err, IsEmpty());
  EXPECT_EQ(json::parse(said.out)["readings"], 6);
}

}  // namespace
}  // namespace neap::client
