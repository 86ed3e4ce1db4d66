// Goal: whoever reads a journal cannot tell whether its readings stand as rows or in blocks.
// Method: one and the same history in a journal that packs at once and in one that never does, and
// every question asked of both.
#include <cstdio>
#include <random>

#include "daemon/journal/block.h"
#include "daemon/journal/reader.h"
#include "tests/journal/support.h"

namespace neap::journal::testing {
namespace {

constexpr std::int64_t kLength = 9 * kHourMs;
constexpr std::array kAsked{Point::canopy_temperature, Point::canopy_vpd, Point::reservoir_level,
                            Point::tray_full};

Options options_of(const std::string& path, bool packs) {
  Options options = options_for(path);
  options.pack_after = packs ? Millis{0} : hours{1000000};
  return options;
}

// Nine hours, some of them in an order of its own, with all that can be wrong of a reading.
void put_history(Writer& writer, unsigned seed) {
  std::mt19937 random(seed);
  const auto chance = [&](unsigned percent) { return random() % 100 < percent; };
  double value = 20;
  writer.put(boot(0));
  for (std::int64_t ms = 0; ms < kLength; ms += 10000) {
    for (const Point point : kAsked) {
      value += (static_cast<double>(random() % 21) - 10) * 0.01;
      const std::int64_t at_ms = ms + random() % 4000;
      ReadingEntry entry = reading(at_ms, point, value);
      if (chance(3)) entry.value.reset(), entry.quality = Quality::bad, entry.fault = Fault::stale;
      if (chance(3)) entry.quality = Quality::uncertain;
      if (chance(2)) entry.quality = Quality::bad, entry.fault = Fault::jump;
      if (point == Point::tray_full && !chance(5)) continue;
      writer.put(entry);
      if (chance(1)) writer.put(reading(at_ms, point, value + 1));  // the later of two counts
      // One that waited in memory until its hour was packed.
      if (chance(1)) writer.put(reading(ms - 3 * kHourMs + 7, point, value));
    }
    if (chance(2)) writer.flush();
  }
  DayTally tally;
  tally.began_tick = kStart + 1234567;
  tally.date = 20605;
  EventEntry day{at(kLength - 50000), {}};
  day.event.kind = EventKind::day_closed;
  day.event.day = tally;
  writer.put(day);
  writer.put(reading(kLength, Point::canopy_vpd, 1));
  writer.flush();
}

std::string text_of(const std::optional<double>& value) {
  return value ? std::to_string(*value) : "-";
}
std::vector<std::string> lines(const std::vector<ReadingRow>& rows) {
  std::vector<std::string> made;
  for (const ReadingRow& row : rows)
    made.push_back(std::to_string(row.at.tick) + " " + text_of(row.value) + " " +
                   std::to_string(static_cast<int>(row.quality)) + " " +
                   std::to_string(static_cast<int>(row.fault)));
  return made;
}
std::vector<std::string> lines(const std::vector<PointSummary>& rows) {
  std::vector<std::string> made;
  for (const PointSummary& row : rows)
    made.push_back(std::to_string(static_cast<int>(row.point)) + " " + std::to_string(row.count) +
                   " " + std::to_string(row.missing) + " " + text_of(row.lowest) + " " +
                   text_of(row.mean) + " " + text_of(row.highest) + " " + text_of(row.latest) +
                   " " + std::to_string(row.latest_at.tick));
  return made;
}
std::vector<std::string> lines(const std::vector<std::vector<Rolled>>& points) {
  std::vector<std::string> made;
  for (const auto& columns : points)
    for (const Rolled& c : columns)
      made.push_back(std::to_string(c.count) + " " + std::to_string(c.missing) + " " +
                     text_of(c.lowest) + " " + text_of(c.mean) + " " + text_of(c.highest) + " " +
                     text_of(c.last) + " " + std::to_string(c.last_tick) + " " +
                     std::to_string(c.ended_missing));
  return made;
}

class Packing : public ::testing::TestWithParam<unsigned> {
 protected:
  std::unique_ptr<Reader> reader_of(const Directory& here) {
    std::string error;
    auto reader = Reader::open(here.file(), error);
    EXPECT_NE(reader, nullptr) << error;
    return reader;
  }
};

TEST_P(Packing, NoQuestionIsAnsweredOtherwise) {
  const Directory rows, blocks;
  put_history(*Writer::open(options_of(rows.file(), false)), GetParam());
  put_history(*Writer::open(options_of(blocks.file(), true)), GetParam());
  EXPECT_EQ(Shell(rows.file()).value("SELECT count(*) FROM reading_block"), "0");
  EXPECT_GT(std::stoi(Shell(blocks.file()).value("SELECT count(*) FROM reading_block")), 20);
  EXPECT_LT(std::stoi(Shell(blocks.file()).value("SELECT count(*) FROM reading")), 3000);

  const auto plain = reader_of(rows), packed = reader_of(blocks);
  EXPECT_EQ(plain->first_tick(), packed->first_tick());
  EXPECT_EQ(plain->last_tick(), packed->last_tick());
  std::mt19937 random(GetParam() + 99);
  for (int i = 0; i < 30; ++i) {
    const auto a = static_cast<std::int64_t>(random() % kLength) - kHourMs;
    const auto b = a + static_cast<std::int64_t>(random() % (i % 2 == 0 ? kLength : 600000));
    const Span span = i == 0 ? Span{} : Span{kStart + a, kStart + b};
    const int limit = i % 3 == 0 ? 40 : 1000000;
    for (const Point point : kAsked)
      for (const std::int64_t bucket : {std::int64_t{0}, std::int64_t{60000}, 3 * kHourMs})
        ASSERT_EQ(lines(plain->readings(point, span, bucket, limit)),
                  lines(packed->readings(point, span, bucket, limit)));
    ASSERT_EQ(lines(plain->summaries(span)), lines(packed->summaries(span)));
    std::vector<std::int64_t> edges;
    for (std::int64_t edge = kStart + a; edge <= kStart + b; edge += 1 + (b - a) / (1 + i))
      edges.push_back(edge);
    ASSERT_EQ(lines(plain->roll_up({kAsked.begin(), kAsked.end()}, edges)),
              lines(packed->roll_up({kAsked.begin(), kAsked.end()}, edges)));
  }
  EXPECT_EQ(plain->trouble() + packed->trouble(), "");
  for (const char* sql : {"SELECT * FROM day_point ORDER BY point", "SELECT * FROM day_summary"})
    EXPECT_EQ(Shell(rows.file()).rows(sql), Shell(blocks.file()).rows(sql));
}

TEST_P(Packing, TheExtensionShowsEachReadingOnce) {
  const Directory rows, blocks;
  put_history(*Writer::open(options_of(rows.file(), false)), GetParam());
  put_history(*Writer::open(options_of(blocks.file(), true)), GetParam());
  Shell plain(rows.file()), packed(blocks.file());
  const std::string view = "FROM v_readings WHERE point = 'canopy.vpd' ORDER BY k";
  const auto wanted = plain.rows("SELECT local, value, quality, fault, tick " + view);
  ASSERT_EQ(packed.load_extension(), "");
  EXPECT_EQ(packed.rows("SELECT local, value, quality, fault, tick " + view), wanted);
  EXPECT_EQ(packed.rows("SELECT k, v, q FROM neap_readings ORDER BY k"),
            plain.rows("SELECT k, v, q FROM reading ORDER BY k"));
  const std::string middle = std::to_string(kStart + kLength / 2);
  const std::vector<std::string> bounds{"tick > " + middle,
                                        "tick <= " + middle,
                                        "k >= 256 * " + middle,
                                        "k < 256.5 * " + middle,
                                        "tick BETWEEN " + middle + " AND 900000 + " + middle,
                                        "tick = 'none'",
                                        "k > 1e300",
                                        "point = 999",
                                        "point = 1 AND tick > " + middle};
  for (const std::string& bound : bounds)
    EXPECT_EQ(packed.rows("SELECT count(*), sum(v), min(k) FROM neap_readings WHERE " + bound),
              plain.rows("SELECT count(*), sum(v), min(k) FROM (SELECT *, k & 255 AS point, "
                         "k >> 8 AS tick FROM reading) WHERE " +
                         bound))
        << bound;
}

// What a program prints, both ways.
std::string said_by(const std::string& command) {
  std::string said;
  FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
  if (pipe == nullptr) return "cannot be started";
  for (int c = std::fgetc(pipe); c != EOF; c = std::fgetc(pipe)) said += static_cast<char>(c);
  ::pclose(pipe);
  return said;
}

TEST(PackingShell, TheSqlite3ShellLoadsTheExtensionAndSeesEachReading) {
  const Directory here;
  put_history(*Writer::open(options_of(here.file(), true)), 7);
  const std::string sqlite3 =
      "sqlite3 -readonly " + here.file() + " '.load " + places::in_build("neap_journal") + "' ";
  const std::string all = said_by(sqlite3 + "'SELECT count(*) FROM v_readings'");
  // A shell without a sanitizer cannot take in a library with one: only their own names excuse it.
  for (const char* runtime : {"undefined symbol: __asan_", "undefined symbol: __tsan_",
                              "undefined symbol: __ubsan_", "undefined symbol: __sancov_"})
    if (all.find(runtime) != std::string::npos) GTEST_SKIP() << all;
  const std::string counted =
      "SELECT (SELECT count(*) FROM reading) + (SELECT sum(usable + missing) FROM reading_hour)";
  EXPECT_EQ(all, Shell(here.file()).value(counted) + "\n");
  EXPECT_NE(said_by(sqlite3 + "'EXPLAIN QUERY PLAN SELECT value FROM v_readings WHERE point = "
                              "\"canopy.vpd\" AND tick > 5'")
                .find("VIRTUAL TABLE INDEX 0:"),
            std::string::npos);
}

INSTANTIATE_TEST_SUITE_P(Seeds, Packing, ::testing::Range(1U, 5U));

TEST(PackingWriter, ReadingsStandAsRowsUntilTheirHourIsOverForTwoHours) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  const std::int64_t hour = hour_of(kStart) + 1;  // the first whole one
  const auto put_at = [&](std::int64_t tick) {
    writer->put(ReadingEntry{instant(Millis{tick}), Point::canopy_vpd, 1.0, Quality::good, {}});
    writer->flush();
  };
  put_at(hour * kHourMs);
  put_at((hour + 3) * kHourMs - 1);
  Shell shell(here.file());
  EXPECT_EQ(shell.value("SELECT count(*) FROM reading_block"), "0");
  put_at((hour + 3) * kHourMs);
  EXPECT_EQ(shell.value("SELECT k FROM reading_block"),
            std::to_string(block_key(hour, slot(Point::canopy_vpd))));
  EXPECT_EQ(shell.value("SELECT count(*) FROM reading"), "2");
}

// An hour of 20 points a second is 72,000 rows: a batch packs 8,000 of them, and events wait no
// longer than for those.
TEST(PackingWriter, ABatchPacksNoMoreThanItsShareAndTheNextGoesOn) {
  const Directory here;
  Options options = options_of(here.file(), false);
  constexpr int kReadings = 20000;
  {
    const auto writer = Writer::open(options);
    for (int i = 0; i < kReadings; ++i) writer->put(reading(i * 10, Point::canopy_vpd, i % 9));
  }
  const auto writer = Writer::open(options_of(here.file(), true));
  Shell shell(here.file());
  ASSERT_EQ(shell.load_extension(), "");
  for (const char* left : {"12001", "4002", "3"}) {
    writer->put(reading(2 * kHourMs + std::atoi(left), Point::canopy_vpd, 1));
    writer->flush();
    EXPECT_EQ(shell.value("SELECT count(*) FROM reading"), left);
  }
  EXPECT_EQ(shell.value("SELECT count(*) FROM neap_readings"), std::to_string(kReadings + 3));
}

// Four hours, of which the first three are packed; of the oldest block a part is wrong.
class Ruined : public ::testing::Test {
 protected:
  Ruined() {
    const auto writer = Writer::open(options_of(here_.file(), true));
    for (std::int64_t ms = 0; ms < 4 * kHourMs; ms += 10000) {
      writer->put(reading(ms, Point::canopy_vpd, 1.5));
      if (ms % 600000 == 0) writer->flush();
    }
    writer->flush();
    shell_.emplace(here_.file());
    key_ = value("SELECT min(k) FROM reading_block");
    held_ = value("SELECT usable + missing FROM reading_hour ORDER BY hour LIMIT 1");
    value("UPDATE reading_block SET packed = x'0102030405' WHERE k = " + key_);
  }
  std::string value(const std::string& sql) { return shell_->value(sql); }

  const Directory here_;
  std::optional<Shell> shell_;
  std::string key_, held_;
};

TEST_F(Ruined, ABlockIsToldOfAndItsFiguresStillCount) {
  std::string error;
  const auto reader = Reader::open(here_.file(), error);
  const std::size_t left = reader->readings(Point::canopy_vpd, {}, 0, 1000000).size();
  EXPECT_EQ(left, 1440 - std::stoul(held_));
  EXPECT_NE(reader->trouble().find("(reading_block " + key_ + ") are damaged"), std::string::npos)
      << reader->trouble();
  const auto rolled = reader->roll_up({Point::canopy_vpd}, {kStart, kStart + 4 * kHourMs});
  EXPECT_EQ(rolled[0][0].count, 1440);
  EXPECT_EQ(reader->trouble(), "");
}

TEST_F(Ruined, TheExtensionNamesTheBlockAndTheRestCanBeAsked) {
  ASSERT_EQ(shell_->load_extension(), "");
  EXPECT_NE(value("SELECT count(*) FROM neap_readings").find("reading_block " + key_),
            std::string::npos);
  EXPECT_EQ(
      value("SELECT count(*) FROM neap_readings WHERE tick > " + std::to_string(kStart + kHourMs)),
      "1079");
}

TEST_F(Ruined, ALateReadingOfItsHourIsKeptAndTheLossIsWrittenDown) {
  const auto writer = Writer::open(options_of(here_.file(), true));
  writer->put(reading(5, Point::canopy_vpd, 1.7));
  writer->put(reading(4 * kHourMs, Point::canopy_vpd, 1.5));
  writer->flush();
  EXPECT_EQ(value("SELECT readings, events FROM loss"), held_ + "|0");
  EXPECT_NE(value("SELECT why FROM loss").find("are damaged"), std::string::npos);
  std::string error;
  const auto reader = Reader::open(here_.file(), error);
  EXPECT_EQ(reader->readings(Point::canopy_vpd, {kStart, kStart + 5}, 0, 9).size(), 1U);
  EXPECT_EQ(value("SELECT usable + missing FROM reading_hour ORDER BY hour LIMIT 1"),
            std::to_string(std::stoi(held_) + 1))
      << "what cannot be read still counts";
}

// Quarters of hours, each stored by itself; two days are kept.
class Keeping : public ::testing::Test {
 protected:
  Keeping() {
    Options options = options_of(here_.file(), true);
    options.durability = Durability::simulated;  // nothing here is about power cuts
    options.keep_readings = hours{48};
    writer_ = Writer::open(options);
    writer_->put(boot(0));
  }
  void put_hours(std::int64_t from, std::int64_t to) {
    for (std::int64_t hour = from; hour < to; ++hour)
      for (std::int64_t i = 0; i < 4; ++i) {
        writer_->put(reading(hour * kHourMs + i * 900000, Point::canopy_vpd, 1.5));
        writer_->flush();
      }
  }
  int count(const std::string& table) {
    return std::stoi(Shell(here_.file()).value("SELECT count(*) FROM " + table));
  }
  const Directory here_;
  std::unique_ptr<Writer> writer_;
};

TEST_F(Keeping, OldReadingsGoAndTheirHourlyFiguresStay) {
  put_hours(0, 100);
  EXPECT_GE(count("reading_block"), 47);
  EXPECT_LE(count("reading_block"), 49);
  EXPECT_GE(count("reading_hour"), 98);
  std::string error;
  const auto reader = Reader::open(here_.file(), error);
  const auto all = reader->roll_up({Point::canopy_vpd}, {kStart, kStart + 100 * kHourMs});
  EXPECT_EQ(all[0][0].count, 400);
  EXPECT_EQ(all[0][0].mean, 1.5);
  // Of an hour that is in two columns the readings are no longer known: it is in one of them.
  const std::int64_t edge = (hour_of(kStart) + 10) * kHourMs + 1;
  const auto two = reader->roll_up({Point::canopy_vpd}, {kStart, edge, kStart + 100 * kHourMs});
  EXPECT_EQ(two[0][0].count + two[0][1].count, 400);
  EXPECT_EQ(reader->readings(Point::canopy_vpd, {kStart, kStart + 20 * kHourMs}, 0, 999).size(),
            0U);
  EXPECT_EQ(reader->trouble(), "");
}

TEST_F(Keeping, AWallClockThatJumpsTenYearsAheadOrBackDeletesNothing) {
  constexpr std::int64_t kTenYears = 10 * 365 * 24 * kHourMs;
  put_hours(0, 20);
  const int before = count("reading_block");
  for (const std::int64_t jump : {kTenYears, -kTenYears, std::int64_t{0}}) {
    writer_->put(clock(20 * kHourMs, kNoonUnixMs + jump, TimeQuality::synced));
    put_hours(20, 22);
  }
  EXPECT_GE(count("reading_block"), before);
}

// A state file that was ruined may give a tick of any size; what it makes old goes so slowly that
// somebody can notice.
TEST_F(Keeping, ATickThatJumpedTakesTwoDaysOfReadingsADayAtMost) {
  put_hours(0, 40);
  const int before = count("reading_block");
  put_hours(90000, 90012);
  const auto left =
      Shell(here_.file())
          .rows("SELECT 1 FROM reading_block WHERE k < " + std::to_string(block_key(50000, 0)))
          .size();
  EXPECT_LT(left, static_cast<std::size_t>(before) - 10) << "it does go";
  EXPECT_GE(left, static_cast<std::size_t>(before) - 24);
}

TEST_F(Keeping, AReadingOfADeletedHourThatComesLateIsCounted) {
  put_hours(0, 100);
  writer_->put(reading(5 * kHourMs + 1, Point::canopy_vpd, 2.5));
  put_hours(100, 101);
  put_hours(101, 104);
  std::string error;
  const auto rolled =
      Reader::open(here_.file(), error)
          ->roll_up({Point::canopy_vpd}, {kStart + 4 * kHourMs, kStart + 7 * kHourMs});
  EXPECT_EQ(rolled[0][0].count, 13);
  EXPECT_EQ(rolled[0][0].highest, 2.5);
}

}  // namespace
}  // namespace neap::journal::testing
