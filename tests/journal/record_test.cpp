// Goal: the record of a grow outlives its readings: the diary is kept and withdrawn from, and each
// closed day leaves what its readings came to, once, also in files of older programs.
#include <gtest/gtest.h>

#include "daemon/journal/reader.h"
#include "daemon/journal/schema.h"
#include "tests/journal/support.h"

namespace neap::journal::testing {
namespace {

constexpr std::int64_t kDay = 86'400'000;

EventEntry day_closed(std::int64_t began_ms, std::int64_t closed_ms, std::int32_t date) {
  EventEntry entry{at(closed_ms), {}};
  entry.event.kind = EventKind::day_closed;
  entry.event.day.began_tick = kStart + began_ms;
  entry.event.day.date = date;
  return entry;
}

// A day of three good readings, one that is bad and one that is none; a flood is under way at its
// end, and the level is low meanwhile.
void put_a_day(Writer& writer, std::int64_t from, std::int32_t date) {
  writer.put(reading(from - 1000, Point::reservoir_level, 52));
  writer.put(reading(from, Point::canopy_temperature, 20));
  writer.put(reading(from + 1000, Point::canopy_temperature, 23));
  writer.put(reading(from + 2000, Point::canopy_temperature, 26));
  writer.put({at(from + 3000), Point::canopy_temperature, 90.0, Quality::bad, Fault::none});
  writer.put({at(from + 4000), Point::canopy_temperature, {}, Quality::bad, Fault::no_answer});
  writer.put(reading(from + kDay - 1'000'000, Point::reservoir_level, 48.5));
  EventEntry flood{at(from + kDay - 500'000), {}};
  flood.event.kind = EventKind::cycle_closed;
  flood.event.cycle.started_tick = kStart + from + kDay - 900'000;
  flood.event.cycle.fill = minutes{3};
  flood.event.cycle.soak = minutes{20};
  writer.put(flood);
  writer.put(reading(from + kDay - 800'000, Point::reservoir_level, 20));
  writer.put(day_closed(from, from + kDay, date));
}

const std::vector<std::string> kTheDay{"20.0|23.0|26.0|3|2"};
constexpr const char* kOfTheDay =
    "SELECT lowest, mean, highest, usable, missing FROM v_day_points WHERE point = "
    "'canopy.temperature'";

TEST(DayRecord, ADayIsSummedUpOnceItsLastReadingsAreStoredAndNotBefore) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(boot(0));
  writer->put(clock(0, kNoonUnixMs, TimeQuality::synced));
  put_a_day(*writer, 60'000, 20605);
  writer->flush();
  EXPECT_EQ(Shell(here.file()).value("SELECT count(*) FROM day_summary"), "0");
  writer->put(reading(60'000 + kDay + 5'000, Point::canopy_temperature, 30));
  writer->flush();
  EXPECT_EQ(Shell(here.file()).value("SELECT count(*) FROM day_summary"), "0")
      << "readings of before may still be on their way";
  writer->put(reading(60'000 + kDay + 60'000, Point::canopy_temperature, 30));
  writer->flush();
  EXPECT_EQ(Shell(here.file()).rows(kOfTheDay), kTheDay) << "without what came after its end";
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
}

TEST(DayRecord, TheLevelIsReadWithNoFloodUnderWayAndWaterUsedHasWhatWasToppedUp) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(boot(0));
  writer->put(clock(0, kNoonUnixMs, TimeQuality::synced));
  put_a_day(*writer, 60'000, 20605);
  writer->put(reading(60'000 + kDay + 60'000, Point::canopy_temperature, 30));
  const std::int64_t noon = kNoonUnixMs + 12 * 3'600'000;
  writer->put(MeasurementEntry{at(kDay * 2), "a/topup", noon, "topup", 6, ""});
  writer->flush();
  Shell shell(here.file());
  EXPECT_EQ(shell.value("SELECT level_first_l, level_last_l FROM day_summary"), "52.0|48.5");
  EXPECT_EQ(shell.value("SELECT water_used_l, hand_measurements FROM v_daily"), "9.5|1")
      << "told on the next day of the day before";
  writer->put(AmendmentEntry{at(kDay * 2), "b", "a/topup", 7, "misread"});
  writer->flush();
  EXPECT_EQ(shell.value("SELECT water_used_l FROM v_daily"), "10.5");
  writer->put(AmendmentEntry{at(kDay * 2), "d", "a/topup", -4.5, "a level that rose"});
  writer->flush();
  EXPECT_EQ(shell.value("SELECT water_used_l, hand_measurements FROM v_daily"), "|1");
  writer->put(MeasurementEntry{at(kDay * 2), "c/change", noon, "change", 50, ""});
  writer->flush();
  EXPECT_EQ(shell.value("SELECT water_used_l, hand_measurements FROM v_daily"), "|2");
}

EventEntry phase(std::int64_t ms, FloodPhase entered) {
  EventEntry entry{at(ms), {}};
  entry.event.kind = EventKind::flood_phase;
  entry.event.phase = entered;
  return entry;
}

TEST(DayRecord, AFloodUnderWayAtTheEndOfADayDoesNotGiveTheDayItsLevel) {
  for (const bool over : {false, true}) {
    const Directory here;
    const auto writer = Writer::open(options_for(here.file()));
    writer->put(boot(0));
    const std::int64_t end = 60'000 + kDay;
    writer->put(reading(59'000, Point::reservoir_level, 52));
    writer->put(reading(end - 1'000'000, Point::reservoir_level, 48.5));
    writer->put(phase(end - 900'000, FloodPhase::fill));
    writer->put(reading(end - 850'000, Point::reservoir_level, 20));
    writer->put(phase(end - 800'000, FloodPhase::soak));
    writer->put(reading(end - 700'000, Point::reservoir_level, 19));
    if (over) {
      writer->put(phase(end - 600'000, FloodPhase::drain));
      writer->put(phase(end - 300'000, FloodPhase::rest));
      writer->put(reading(end - 200'000, Point::reservoir_level, 48));
    }
    writer->put(day_closed(60'000, end, 20605));
    writer->put(reading(end + 60'000, Point::canopy_temperature, 30));
    writer->flush();
    EXPECT_EQ(Shell(here.file()).value("SELECT level_first_l, level_last_l FROM day_summary"),
              over ? "52.0|48.0" : "52.0|48.5");
  }
}

TEST(DayRecord, SummingUpAgainChangesNothingAndTheRecordOutlivesItsReadings) {
  const Directory here;
  for (int run = 0; run < 2; ++run) {
    const auto writer = Writer::open(options_for(here.file()));
    writer->put(boot(run * 1000));
    if (run == 0) put_a_day(*writer, 60'000, 20605);
    // The second run meets a thinned journal.
    if (run == 1) Shell(here.file()).rows("DELETE FROM reading");
    writer->put(day_closed(60'000, 60'000 + kDay, 20605));
    writer->put(reading(60'000 + kDay + 60'000 + run, Point::canopy_temperature, 30));
    writer->flush();
    EXPECT_EQ(Shell(here.file()).rows(kOfTheDay), kTheDay) << "run " << run;
    EXPECT_EQ(Shell(here.file()).value("SELECT count(*) FROM day_summary"), "1");
  }
}

class FromOlder : public ::testing::TestWithParam<int> {};

TEST_P(FromOlder, AJournalOfEachOlderVersionGetsTheSummariesOfItsDays) {
  const Directory here;
  {
    sqlite3* raw = nullptr;
    sqlite3_open(here.file().c_str(), &raw);
    const Database db(raw);
    const auto steps = migrations().first(static_cast<std::size_t>(GetParam()));
    ASSERT_EQ(migrate(raw, 0, steps), SQLITE_OK);
    for (int day = 0; day < 2; ++day) {
      const std::int64_t began = kStart + day * kDay;
      const std::string k = std::to_string((began + 1000) * 256);
      ASSERT_EQ(execute(raw, "INSERT INTO reading VALUES (" + k + " + " +
                                 std::to_string(slot(Point::canopy_temperature)) + ", 2150, 2);" +
                                 "INSERT INTO day VALUES (" + std::to_string(began) + ", " +
                                 std::to_string(began + kDay) + ", " + std::to_string(20605 + day) +
                                 ", 0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,NULL,NULL)"),
                SQLITE_OK)
          << sqlite3_errmsg(raw);
    }
  }
  const auto writer = Writer::open(options_for(here.file()));
  for (int minute = 1; minute <= 3; ++minute) {  // one day a batch
    writer->put(reading(2 * kDay + minute * 60'000, Point::canopy_temperature, 30));
    writer->flush();
  }
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  EXPECT_EQ(Shell(here.file()).rows("SELECT date, mean FROM v_day_points ORDER BY date"),
            (std::vector<std::string>{"2026-06-01|21.5", "2026-06-02|21.5"}));
}
INSTANTIATE_TEST_SUITE_P(Versions, FromOlder, ::testing::Values(1, 2, 3, 4));

TEST(DayRecord, AReaderHasTheDaysOfASpan) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(boot(0));
  put_a_day(*writer, 60'000, 20605);
  writer->put(reading(60'000 + kDay + 60'000, Point::canopy_temperature, 30));
  writer->flush();
  std::string error;
  const auto reader = Reader::open(here.file(), error);
  ASSERT_TRUE(reader) << error;
  const auto days = reader->day_summaries({});
  ASSERT_EQ(days.size(), 1u);
  EXPECT_EQ(days[0].began, kStart + 60'000);
  EXPECT_EQ(days[0].level_last_l, 48.5);
  ASSERT_EQ(days[0].points.size(), 2u);
  EXPECT_EQ(days[0].points[0].point, Point::canopy_temperature);
  EXPECT_EQ(days[0].points[0].mean, 23);
  EXPECT_TRUE(reader->day_summaries({kStart + 60'001, std::nullopt}).empty());
}

TEST(Diary, AnEntryIsTakenInOnceAndWithdrawnByAnother) {
  const Directory here;
  {
    const auto writer = Writer::open(options_for(here.file()));
    writer->put(boot(0));
    writer->put(clock(0, kNoonUnixMs, TimeQuality::synced));
    const DiaryEntry start{at(3000), "a",    kNoonUnixMs + 2000, "grow_started", "june", 12,
                           "",       "basil"};
    writer->put(start);
    writer->put(start);
    writer->put(DiaryEntry{at(4000), "b", kNoonUnixMs + 1000, "care", "filter", {}, "", "washed"});
    writer->put(DiaryEntry{at(4000), "c", kNoonUnixMs + 9000, "harvest", "june", 840, "good", ""});
    writer->put(DiaryEntry{at(5000), "d", kNoonUnixMs + 9000, "withdrawal", "c", {}, "", "twice"});
  }
  std::string error;
  const auto reader = Reader::open(here.file(), error);
  ASSERT_TRUE(reader) << error;
  const auto diary = reader->diary();
  ASSERT_EQ(diary.size(), 2u);
  EXPECT_EQ(diary[0].subject, "filter") << "in the order in which it happened";
  EXPECT_EQ(diary[0].figure, std::nullopt);
  EXPECT_EQ(diary[1].says, "basil");
  EXPECT_EQ(diary[1].figure, 12);
  EXPECT_EQ(diary[1].happened.tick, kStart + 2000);
  EXPECT_EQ(Shell(here.file()).rows("SELECT local, kind, subject FROM v_diary ORDER BY local"),
            (std::vector<std::string>{"2026-06-01 14:00:01|care|filter",
                                      "2026-06-01 14:00:02|grow_started|june"}));
}

TEST(Diary, AJournalThatAnOlderDaemonWritesHasNone) {
  const Directory here;
  {
    sqlite3* raw = nullptr;
    sqlite3_open(here.file().c_str(), &raw);
    const Database db(raw);
    ASSERT_EQ(migrate(raw, 0, migrations().first(4)), SQLITE_OK);
  }
  std::string error;
  const auto reader = Reader::open(here.file(), error);
  ASSERT_TRUE(reader) << error;
  EXPECT_TRUE(reader->diary().empty());
  EXPECT_TRUE(reader->day_summaries({}).empty());
  EXPECT_EQ(reader->trouble(), "");
}

}  // namespace
}  // namespace neap::journal::testing
