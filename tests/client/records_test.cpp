// Goal: what the journal has comes out filtered, as CSV or JSON lines, while it is written, and as
// a folder that other programs read. Method: a journal written by the daemon's own writer; a pause
// that writes more of it instead of waiting; Python's csv module as the judge of CSV.
#include <filesystem>
#include <fstream>

#include "daemon/client/csv.h"
#include "daemon/client/record_columns.h"
#include "daemon/journal/journal.h"
#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client {
namespace {

namespace fs = std::filesystem;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::json;
using testing::lines_of;
using testing::Said;
using ::testing::SizeIs;
using ::testing::StartsWith;

constexpr std::int64_t kStart = 4294967000;  // ms; no test begins at zero

std::string slurp(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

class Records : public ::testing::Test {
 protected:
  Records() { begin("journal.db", Millis{kStart}); }

  // 2026-06-01 14:00 local at `start`.
  void begin(const std::string& name, Millis start) {
    journal::Options options;
    options.path = directory_.file(name);
    options.durability = journal::Durability::simulated;
    writer_ = journal::Writer::open(options);
    writer_->put(
        journal::ClockEntry{instant(start), {testing::kNoonUnixMs, 7200, TimeQuality::synced}});
    writer_->flush();
  }
  void put(Millis after, const Event& event) {
    writer_->put(journal::EventEntry{instant(Millis{kStart} + after), event});
    writer_->flush();
  }
  void put_latch(Millis after, EventKind kind, Latch latch = Latch::leak) {
    Event event;
    event.kind = kind;
    event.latch = latch;
    put(after, event);
  }
  void put_pump(Millis after, Permille level) {
    Event event;
    event.kind = EventKind::actuation;
    event.output = Output::pump;
    event.level = level;
    put(after, event);
  }
  void put_reading(Millis after, Point point, std::optional<double> value) {
    writer_->put(journal::ReadingEntry{instant(Millis{kStart} + after), point, value,
                                       value ? Quality::good : Quality::bad,
                                       value ? Fault::none : Fault::no_answer});
    writer_->flush();
  }
  std::vector<std::string> with_journal(std::vector<std::string> words) const {
    words.insert(words.end(), {"--journal", directory_.file("journal.db")});
    return words;
  }
  Said ask(const std::vector<std::string>& words) { return testing::neap(with_journal(words)); }
  // One run whose pauses are `pause`, which says whether to go on.
  Said follow(const std::vector<std::string>& words, const std::function<bool(Millis)>& pause) {
    std::istringstream in;
    std::ostringstream out;
    std::ostringstream err;
    Surroundings around{out,
                        err,
                        false,
                        false,
                        [](const char*) { return std::nullopt; },
                        [] { return testing::kNoonUnixMs; },
                        "/nowhere/neap",
                        in};
    around.pause = pause;
    const int code = run(with_journal(words), around);
    return {code, out.str(), err.str()};
  }

  testing::Directory directory_;
  std::unique_ptr<journal::Writer> writer_;
};

TEST_F(Records, SeveralKindsAndWhatTheyAreAbout) {
  put_latch(minutes{5}, EventKind::latch_set);
  put_pump(minutes{6}, kRunning);
  put_latch(minutes{7}, EventKind::latch_reset);
  put_latch(minutes{8}, EventKind::latch_set, Latch::lost_water);
  EXPECT_THAT(lines_of(ask({"events", "--kind", "latch_set,actuation"}).out), SizeIs(3));
  EXPECT_THAT(lines_of(ask({"events", "--about", "pump"}).out),
              ElementsAre("2026-06-01 14:06:00  flood pump running"));
  EXPECT_THAT(lines_of(ask({"events", "--about", "lost_water"}).out),
              ElementsAre("2026-06-01 14:08:00  latch lost-water set"));
  EXPECT_THAT(lines_of(ask({"events", "--about", "leak", "--limit", "1"}).out),
              ElementsAre("2026-06-01 14:07:00  latch leak reset"));
  EXPECT_THAT(ask({"events", "--about", "punp"}).err, HasSubstr("did you mean \"pump\"?"));
  EXPECT_THAT(ask({"events", "--kind", "latch_set,foo"}).err, HasSubstr("\"foo\""));
}

TEST_F(Records, TimesMayBeSaidAsPeopleSayThem) {
  put_latch(hours{1}, EventKind::latch_set);
  put_latch(hours{20}, EventKind::latch_reset);  // 2026-06-02 10:00
  Event day;
  day.kind = EventKind::day_closed;
  day.day.began_tick = kStart;
  put(hours{17}, day);  // 07:00
  EXPECT_THAT(lines_of(ask({"events", "--lines", "--since", "yesterday"}).out), SizeIs(3));
  EXPECT_THAT(lines_of(ask({"events", "--lines", "--since", "today", "--kind", "latch_reset"}).out),
              SizeIs(1));
  EXPECT_THAT(lines_of(ask({"events", "--lines", "--since", "yesterday 15:30"}).out), SizeIs(2));
  EXPECT_THAT(lines_of(ask({"events", "--lines", "--since", "yesterday", "--until", "today"}).out),
              SizeIs(1));
  EXPECT_THAT(lines_of(ask({"events", "--lines", "--since", "lights-on"}).out), SizeIs(2));
  EXPECT_THAT(lines_of(ask({"events", "--lines", "--since", "07:30"}).out), SizeIs(1));
  EXPECT_THAT(ask({"events", "--since", "tomorrow"}).err, HasSubstr("lights-on"));
}

TEST_F(Records, LightsOnIsRefusedWhereNoDayHasEnded) {
  EXPECT_THAT(ask({"events", "--since", "lights-on"}).err,
              HasSubstr("the journal has seen no day end at lights-on yet"));
}

TEST_F(Records, ReadingsOfSeveralPointsStandSideBySideInCsv) {
  put_reading(minutes{1}, Point::canopy_temperature, 23.5);
  put_reading(minutes{1}, Point::room_humidity, 48.0);
  put_reading(minutes{2}, Point::canopy_temperature, std::nullopt);
  EXPECT_EQ(ask({"readings", "canopy.temperature", "room.humidity", "--csv"}).out,
            "time,canopy.temperature (C),canopy.temperature quality,room.humidity (%),"
            "room.humidity quality\r\n"
            "2026-06-01T14:01:00+02:00,23.5,good,48,good\r\n"
            "2026-06-01T14:02:00+02:00,,no answer,,\r\n");
  EXPECT_THAT(lines_of(ask({"readings", "canopy.temperature", "room.humidity"}).out),
              ElementsAre("2026-06-01 14:01:00  canopy.temperature  23.5 C",
                          "2026-06-01 14:01:00  room.humidity         48 %",
                          "2026-06-01 14:02:00  canopy.temperature       -  no answer"));
}

TEST_F(Records, LinesAreOneObjectEach) {
  put_latch(minutes{5}, EventKind::latch_set);
  put_latch(minutes{7}, EventKind::latch_reset);
  const auto lines = lines_of(ask({"events", "--lines"}).out);
  ASSERT_THAT(lines, SizeIs(2));
  EXPECT_EQ(json::parse(lines[1])["kind"], "latch reset");
  put_reading(minutes{8}, Point::canopy_vpd, 1.02);
  EXPECT_EQ(json::parse(ask({"readings", "canopy.vpd", "--lines"}).out)["value"], 1.02);
}

TEST_F(Records, FormsThatContradictEachOtherAreRefused) {
  EXPECT_EQ(ask({"events", "--csv", "--lines"}).code, kExitUsage);
  EXPECT_EQ(ask({"events", "--follow", "--json"}).code, kExitUsage);
  EXPECT_EQ(ask({"events", "--follow", "--until", "1h"}).code, kExitUsage);
  EXPECT_EQ(ask({"readings", "--csv"}).code, kExitUsage);
  EXPECT_EQ(ask({"readings", "canopy.vpd", "--follow", "--every", "1m"}).code, kExitUsage);
}

TEST_F(Records, FollowPrintsEachEventOnceAndEndsWell) {
  put_latch(minutes{5}, EventKind::latch_set);
  int looks = 0;
  const Said said = follow({"events", "--follow", "--kind", "latch_set,latch_reset"}, [&](Millis) {
    ++looks;
    if (looks == 2) put_latch(minutes{6}, EventKind::latch_reset);
    if (looks == 3) put_pump(minutes{7}, kRunning);
    if (looks == 4) put_latch(minutes{8}, EventKind::latch_set);
    return looks < 6;
  });
  EXPECT_EQ(said.code, kExitDone);
  EXPECT_THAT(lines_of(said.out), ElementsAre("2026-06-01 14:05:00  latch leak set",
                                              "2026-06-01 14:06:00  latch leak reset",
                                              "2026-06-01 14:08:00  latch leak set"));
}

TEST_F(Records, FollowGoesOnInAJournalThatTookTheOldOnesPlace) {
  put_latch(minutes{5}, EventKind::latch_set);
  int looks = 0;
  const Said said = follow({"events", "--follow", "--csv"}, [&](Millis) {
    ++looks;
    if (looks == 1) {
      writer_.reset();
      for (const char* end : {"", "-wal", "-shm"})
        fs::remove(directory_.file(std::string("journal.db") + end));
    }
    if (looks == 3) {  // and none for a moment
      begin("journal.db", Millis{kStart} + minutes{6});
      put_latch(minutes{9}, EventKind::latch_reset);
    }
    return looks < 6;
  });
  EXPECT_EQ(said.code, kExitDone);
  const auto lines = lines_of(said.out);
  ASSERT_THAT(lines, SizeIs(3)) << said.out;
  EXPECT_THAT(lines[0], StartsWith("number,time,tick (ms),kind,"));
  EXPECT_THAT(lines[2], HasSubstr("latch leak reset"));
}

TEST_F(Records, FollowedReadingsOfTwoPointsMayComeLate) {
  put_reading(minutes{1}, Point::canopy_vpd, 1.0);
  int looks = 0;
  const Said said = follow({"readings", "canopy.vpd", "room.vpd", "--follow"}, [&](Millis) {
    ++looks;
    if (looks == 1) put_reading(minutes{3}, Point::canopy_vpd, 1.1);
    if (looks == 2) put_reading(minutes{2}, Point::room_vpd, 1.4);
    return looks < 4;
  });
  EXPECT_THAT(lines_of(said.out), ElementsAre("2026-06-01 14:01:00  canopy.vpd  1.00 kPa",
                                              "2026-06-01 14:03:00  canopy.vpd  1.10 kPa",
                                              "2026-06-01 14:02:00  room.vpd  1.40 kPa"));
}

TEST(Csv, AfterRfc4180) {
  EXPECT_EQ(csv_row({"a", "", "b, \"c\"", "d\ne"}), "a,,\"b, \"\"c\"\"\",\"d\ne\"\r\n");
  EXPECT_EQ(number_cell(24.310000000000002), "24.31");
  EXPECT_EQ(number_cell(std::nullopt), "");
  EXPECT_EQ(iso_time({0, testing::kNoonUnixMs, -12600}), "2026-06-01T08:30:00-03:30");
  EXPECT_EQ(iso_time({7, std::nullopt, 0}), "");
}

class ExportVerb : public Records {
 protected:
  ExportVerb() {
    put_reading(minutes{1}, Point::canopy_temperature, 23.5);
    put_reading(minutes{2}, Point::canopy_temperature, std::nullopt);
    put_reading(hours{30}, Point::canopy_vpd, 1.02);
    put_latch(minutes{5}, EventKind::latch_set);
    writer_->put(journal::DiaryEntry{instant(Millis{kStart} + minutes{9}), "id-1",
                                     testing::kNoonUnixMs + 540'000, "grow_note", "june",
                                     std::nullopt, "", "first leaves, \"true\" ones"});
    writer_->flush();
  }
};

TEST_F(ExportVerb, IsReadBackByAnotherProgram) {
  const std::string folder = directory_.file("out");
  const Said said = ask({"export", folder});
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(said.out, HasSubstr("3 readings"));
  const std::string script =
      "import csv, os, sys\n"
      "d = sys.argv[1]\n"
      "read = lambda n: list(csv.DictReader(open(os.path.join(d, n), newline='')))\n"
      "known = {(r['file'], r['column']) for r in read('dictionary.csv')}\n"
      "files = sorted(f for f in os.listdir(d) if f != 'dictionary.csv')\n"
      "heads = {(f, c) for f in files for c in next(csv.reader(open(os.path.join(d, f))))}\n"
      "assert heads == known, heads ^ known\n"
      "assert all(r['meaning'] and r['type'] for r in read('dictionary.csv'))\n"
      "r = read('readings.csv')\n"
      "assert [x['value'] for x in r] == ['23.5', '', '1.02'], r\n"
      "assert r[1]['fault'] == 'no answer'\n"
      "assert r[0]['time'] == '2026-06-01T14:01:00+02:00'\n"
      "assert {x['point'] for x in r} <= {x['point'] for x in read('points.csv')}\n"
      "assert read('events.csv')[0]['text'] == 'latch leak set'\n"
      "assert read('diary.csv')[0]['says'] == 'first leaves, \"true\" ones'\n"
      "print(len(files))\n";
  std::ofstream(directory_.file("judge.py")) << script;
  FILE* pipe =
      ::popen(("python3 " + directory_.file("judge.py") + " " + folder + " 2>&1").c_str(), "r");
  char answer[4096] = {};
  const std::size_t got = std::fread(answer, 1, sizeof answer - 1, pipe);
  EXPECT_EQ(::pclose(pipe), 0) << answer;
  EXPECT_EQ(std::string(answer, got), "8\n");
}

TEST_F(ExportVerb, TakesTheSpanThatIsAskedFor) {
  const std::string folder = directory_.file("out");
  EXPECT_EQ(ask({"export", folder, "--since", "1h"}).code, kExitDone);
  EXPECT_THAT(lines_of(slurp(fs::path(folder) / "readings.csv")), SizeIs(2));
  EXPECT_THAT(lines_of(slurp(fs::path(folder) / "diary.csv")), SizeIs(1));
}

TEST_F(ExportVerb, WritesOverNothing) {
  const std::string folder = directory_.file("there");
  fs::create_directory(folder);
  const Said said = ask({"export", folder});
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_THAT(said.err, HasSubstr("exists, and nothing is written over"));
  EXPECT_TRUE(fs::is_empty(folder));
  fs::create_symlink("nowhere", directory_.file("link"));
  EXPECT_EQ(ask({"export", directory_.file("link")}).code, kExitRefused);
  EXPECT_EQ(ask({"export", "."}).code, kExitUsage);
}

TEST_F(ExportVerb, LeavesNothingWhereItFails) {
  const Said said = ask({"export", directory_.file("missing/out")});
  EXPECT_EQ(said.code, kExitFailed);
  EXPECT_THAT(said.err, HasSubstr("name a folder that is not there yet"));
  EXPECT_EQ(ask({"export", directory_.file("out"), "--until", "2020-01-01"}).code, kExitRefused);
  for (const auto& entry : fs::directory_iterator(directory_.path()))
    EXPECT_THAT(entry.path().filename().string(), StartsWith("journal.db"));
}

}  // namespace
}  // namespace neap::client
