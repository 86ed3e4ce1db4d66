// Goal: a journal of every version that ever was is brought up by the present program, and says all
// that it said. Method: a rich journal by the writer; for each version a file made by the
// migrations up to it, with the rows of the rich one in the tables and columns that it has; opened
// by the writer, and asked through the reader.
#include <sstream>

#include "daemon/journal/reader.h"
#include "daemon/journal/schema.h"
#include "tests/journal/support.h"

namespace neap::journal::testing {
namespace {

constexpr std::int64_t kHour = 3'600'000;

Event event_of(EventKind kind) {
  Event event;
  event.kind = kind;
  return event;
}

void put_alarm(Writer& writer, std::int64_t ms, AlarmState from, AlarmState to) {
  Event event = event_of(EventKind::alarm);
  event.alarm = Alarm::leak;
  event.alarm_from = from;
  event.alarm_to = to;
  event.because = because(Reason::leak_wet);
  writer.put(EventEntry{at(ms), event});
}

// Some of everything that the first version could hold, and more; readings over hours as rows.
void write_rich(const std::string& path) {
  Options options = options_for(path);
  options.pack_after = hours{1000};
  const auto writer = Writer::open(options);
  writer->put(boot(0, false));
  writer->put(clock(0, kNoonUnixMs, TimeQuality::synced));
  writer->put(SettingsEntry{at(1), 77, "neap: 1\n", true, "at start"});
  for (std::int64_t ms = 0; ms < 5 * kHour; ms += 60'000) {
    writer->put(reading(ms, Point::canopy_temperature, 20 + static_cast<double>(ms % 700) / 100));
    writer->put(
        ReadingEntry{at(ms), Point::room_humidity, std::nullopt, Quality::bad, Fault::no_answer});
  }
  writer->put(EventEntry{at(2000), event_of(EventKind::stage), "leafing"});
  put_alarm(*writer, 3000, AlarmState::normal, AlarmState::unacknowledged);
  put_alarm(*writer, 4000, AlarmState::unacknowledged, AlarmState::acknowledged);
  put_alarm(*writer, 5000, AlarmState::acknowledged, AlarmState::normal);
  Event cycle = event_of(EventKind::cycle_closed);
  cycle.cycle.started_tick = kStart + 6000;
  cycle.cycle.slot = {20'000, 2};
  cycle.cycle.outcome = FloodOutcome::complete;
  cycle.cycle.fill = seconds{150};
  cycle.cycle.litres_known = true;
  cycle.cycle.litres_out = 28.9;
  writer->put(EventEntry{at(9000), cycle});
  Event day = event_of(EventKind::day_closed);
  day.day.began_tick = kStart;
  day.day.floods_complete = 4;
  writer->put(EventEntry{at(4 * kHour), day});
  writer->put(MeasurementEntry{at(10'000), "m1", kNoonUnixMs + 10'000, "ph", 5.9, "by hand"});
  writer->put(ClientEntry{at(11'000), 1000, 42, "flood", true, "{}"});
  writer->put(StopEntry{at(5 * kHour), "asked to stop"});
  writer->flush();
  ASSERT_FALSE(writer->trouble()) << writer->trouble_text();
}

// All rows of `from` that fit into the tables and columns of `to`, both attached to one connection.
void pour(Shell& db) {
  for (const std::string& table :
       db.rows("SELECT name FROM old.sqlite_schema WHERE type = 'table' INTERSECT "
               "SELECT name FROM rich.sqlite_schema WHERE type = 'table'")) {
    if (table.starts_with("sqlite_")) continue;
    const std::string columns = db.value(
        "SELECT group_concat(name) FROM (SELECT name FROM pragma_table_info('" + table +
        "', 'old') INTERSECT SELECT name FROM pragma_table_info('" + table + "', 'rich'))");
    const auto said = db.rows("INSERT OR REPLACE INTO old." + table + " (" + columns + ") SELECT " +
                              columns + " FROM rich." + table);
    ASSERT_TRUE(said.empty()) << table << ": " << said.front();
  }
}

// What a reader says, as text: what every version could hold.
std::string told_by(const std::string& path) {
  std::string error;
  const auto reader = Reader::open(path, error);
  EXPECT_TRUE(reader) << error;
  if (!reader) return "";
  std::ostringstream out;
  const Span old{{}, kStart + 5 * kHour};
  for (const EventRow& row : reader->events(old, {}, 10'000))
    out << row.number << " " << row.at.tick << " " << row.at.unix_ms.value_or(0) << " "
        << static_cast<int>(row.event.kind) << " " << row.name << "\n";
  reader->each_reading(old, [&](const ReadingRow& row) {
    out << row.at.tick << " " << static_cast<int>(row.point) << " " << row.value.value_or(-1) << " "
        << static_cast<int>(row.quality) << " " << static_cast<int>(row.fault) << "\n";
  });
  for (const CycleEntry& row : reader->cycles(old))
    out << "cycle " << row.started.tick << " " << row.row.slot.date << " "
        << static_cast<int>(row.row.outcome) << " " << row.row.fill.count() << " "
        << row.row.litres_out << "\n";
  for (const DayEntry& row : reader->days(old))
    out << "day " << row.began.tick << " " << row.tally.floods_complete << "\n";
  for (const AlarmSpan& row : reader->alarms(old))
    out << "alarm " << row.raised.tick << " " << (row.cleared ? row.cleared->tick : 0) << " "
        << row.acknowledged << " " << static_cast<int>(row.because.reason) << "\n";
  for (const MeasurementRow& row : reader->measurements(old))
    out << "measured " << row.id << " " << row.taken.unix_ms.value_or(0) << " " << row.quantity
        << " " << row.value << " " << row.note << "\n";
  for (const SettingsRow& row : reader->settings(old)) out << "settings " << row.hash << "\n";
  for (const BootRow& row : reader->boots(old))
    out << "boot " << row.at.tick << " " << row.version << " " << row.clean_before << "\n";
  out << reader->settings_in_force();
  EXPECT_EQ(reader->trouble(), "");
  return out.str();
}

// A journal as version `version` made it, with the rows of `rich` that it had a place for.
void write_old(const std::string& path, int version, const std::string& rich) {
  {
    sqlite3* raw = nullptr;
    sqlite3_open(path.c_str(), &raw);
    const Database db(raw);
    ASSERT_EQ(migrate(raw, 0, migrations().first(static_cast<std::size_t>(version))), SQLITE_OK);
  }
  Shell db(path);
  db.rows("ATTACH '" + path + "' AS old");
  db.rows("ATTACH '" + rich + "' AS rich");
  ASSERT_NO_FATAL_FAILURE(pour(db));
  EXPECT_EQ(db.value("SELECT count(*) FROM old.event"),
            db.value("SELECT count(*) FROM rich.event"));
}

class EveryVersion : public ::testing::TestWithParam<int> {};

TEST_P(EveryVersion, IsBroughtUpAndSaysWhatItSaid) {
  const Directory here;
  const std::string rich = here.path() / "rich.db";
  ASSERT_NO_FATAL_FAILURE(write_rich(rich));
  const std::string whole = told_by(rich);
  ASSERT_GT(whole.size(), 10'000u);
  ASSERT_NO_FATAL_FAILURE(write_old(here.file(), GetParam(), rich));
  {
    const auto writer = Writer::open(options_for(here.file()));
    writer->flush();
    ASSERT_FALSE(writer->trouble()) << writer->trouble_text();
    EXPECT_EQ(told_by(here.file()), whole);
    // It lives on: hours later readings are packed, and say the same.
    writer->put(boot(9 * kHour));
    for (std::int64_t ms = 9 * kHour; ms < 16 * kHour; ms += 60'000) {
      writer->put(reading(ms, Point::canopy_temperature, 21));
      writer->flush();
    }
    writer->put(DiaryEntry{at(16 * kHour), "d1", kNoonUnixMs, "note", "", std::nullopt, "", "new"});
    writer->flush();
    ASSERT_FALSE(writer->trouble()) << writer->trouble_text();
  }
  Shell after(here.file());
  EXPECT_NE(after.value("SELECT count(*) FROM reading_block"), "0") << "nothing was packed";
  EXPECT_EQ(after.value("PRAGMA integrity_check"), "ok");
  EXPECT_EQ(told_by(here.file()), whole);
  EXPECT_EQ(newest_tick(here.file()), at(16 * kHour - 60'000));
}

// A reader before the daemon's first start on it: the report of the last grow must not need that.
TEST_P(EveryVersion, IsReadAsItStandsOrRefusedInWords) {
  const Directory here;
  const std::string rich = here.path() / "rich.db";
  ASSERT_NO_FATAL_FAILURE(write_rich(rich));
  ASSERT_NO_FATAL_FAILURE(write_old(here.file(), GetParam(), rich));
  std::string error;
  const auto reader = Reader::open(here.file(), error);
  ASSERT_TRUE(reader) << error;
  EXPECT_EQ(reader->events({}, {}, 100).size(), 6u);
}

INSTANTIATE_TEST_SUITE_P(Schemas, EveryVersion,
                         ::testing::Range(1, static_cast<int>(migrations().size()) + 1));

TEST(AJournalOfALaterVersion, IsNamedAndNotTouched) {
  const Directory here;
  Writer::open(options_for(here.file()))->flush();
  EXPECT_EQ(written_by_later(here.file()), "");
  EXPECT_EQ(written_by_later((here.path() / "none.db").string()), "");
  Shell(here.file()).rows("PRAGMA user_version = 1000");
  EXPECT_NE(written_by_later(here.file()).find("is newer than this program"), std::string::npos);
}

TEST(AJournalThatMustStayAsItIs, IsNotEvenOpenedAndSaysWhy) {
  const Directory here;
  Options options = options_for(here.file());
  options.untouched = "a later neap wrote here";
  const auto writer = Writer::open(options);
  writer->put(numbered_event(1000, 1));
  writer->flush();
  EXPECT_TRUE(writer->trouble());
  EXPECT_NE(writer->trouble_text().find("a later neap wrote here"), std::string::npos);
  EXPECT_FALSE(std::filesystem::exists(here.file()));
}

}  // namespace
}  // namespace neap::journal::testing
