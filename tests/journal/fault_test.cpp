// Disks fill up, files are locked or damaged, programs are older than files. Putting never waits
// and nothing that was put is lost without being counted.
#include <sys/mount.h>
#include <sys/wait.h>

#include <cmath>
#include <fstream>

#include "daemon/journal/reader.h"
#include "daemon/journal/schema.h"
#include "tests/journal/support.h"

namespace neap::journal::testing {
namespace {

TEST(Fault, ALockedFileNeverHoldsUpAPutAndIsCaughtUpWith) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(numbered_event(0, 0));
  writer->flush();

  Shell other(here.file());
  ASSERT_EQ(other.rows("BEGIN EXCLUSIVE"), std::vector<std::string>{});
  writer->put(numbered_event(1, 1));
  writer->flush();
  EXPECT_TRUE(writer->trouble());
  EXPECT_NE(writer->trouble_text().find("1 events and 0 readings wait in memory"),
            std::string::npos)
      << writer->trouble_text();
  EXPECT_NE(writer->trouble_text().find("close the other program"), std::string::npos);

  // The lock lasts for as long as this connection likes: were a put to wait for it, this would
  // hang.
  for (int i = 2; i < 1000; ++i) writer->put(numbered_event(i, i));
  writer->put(reading(1000, Point::canopy_temperature, 20));

  ASSERT_EQ(other.rows("COMMIT"), std::vector<std::string>{});
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  EXPECT_EQ(other.value("SELECT count(*), min(number), max(number), sum(value) FROM event"),
            "1000|1|1000|499500");
  EXPECT_EQ(other.value("SELECT count(*) FROM reading"), "1");
  EXPECT_EQ(other.value("SELECT count(*) FROM loss"), "0");
}

TEST(Fault, WhatFindsNoRoomInMemoryIsCountedInTheFile) {
  const Directory here;
  Options options = options_for(here.file());
  options.ring_readings = 10;
  options.ring_events = 4;
  const auto writer = Writer::open(options);
  writer->put(numbered_event(0, 0));
  writer->flush();

  Shell other(here.file());
  ASSERT_EQ(other.rows("BEGIN EXCLUSIVE"), std::vector<std::string>{});
  for (int i = 1; i <= 10; ++i) writer->put(numbered_event(i, i));
  for (int i = 0; i < 25; ++i) writer->put(reading(i, Point::canopy_temperature, i));
  writer->flush();
  EXPECT_EQ(writer->readings_lost(), 15U);
  ASSERT_EQ(other.rows("COMMIT"), std::vector<std::string>{});
  writer->flush();

  EXPECT_EQ(other.value("SELECT min(value), max(value), count(*) FROM event WHERE number > 1"),
            "7|10|4");
  EXPECT_EQ(other.value("SELECT min(v), max(v), count(*) FROM reading"), "1500|2400|10");
  EXPECT_EQ(other.value("SELECT sum(readings), sum(events) FROM loss"), "15|6");
  EXPECT_NE(other.value("SELECT why FROM v_losses").find("locked"), std::string::npos);
  writer->put(numbered_event(50, 50));
  writer->flush();
  EXPECT_EQ(other.value("SELECT sum(readings), sum(events) FROM loss"), "15|6") << "told once";
  EXPECT_EQ(other.value("SELECT max(number) FROM event"), "6") << "numbers without a gap";
}

TEST(Fault, AnEntryThatNoFileWouldTakeIsCountedAndHoldsUpNoOther) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(numbered_event(0, 0));
  writer->put(MeasurementEntry{at(1), "a", kNoonUnixMs, "ph", std::nan(""), ""});
  writer->put(numbered_event(2, 1));
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  Shell shell(here.file());
  EXPECT_EQ(shell.value("SELECT count(*), max(number) FROM event"), "2|2");
  EXPECT_EQ(shell.value("SELECT count(*) FROM measurement"), "0");
  EXPECT_EQ(shell.value("SELECT events, why FROM loss"), "1|entries that could not be stored");
}

std::int64_t log_size(const Directory& here) {
  return static_cast<std::int64_t>(std::filesystem::file_size(here.file() + "-wal"));
}

TEST(Fault, AProgramThatHoldsAnOldViewStopsReadingsBeforeTheLogFillsTheDisk) {
  const Directory here;
  Options options = options_for(here.file());
  options.log_noticed = 1 << 20;
  options.log_most = 2 << 20;
  const auto writer = Writer::open(options);
  writer->put(numbered_event(0, 0));
  writer->flush();

  Shell other(here.file());
  other.rows("BEGIN");
  ASSERT_EQ(other.value("SELECT count(*) FROM event"), "1");  // from here on it keeps this view
  std::int64_t ms = 0;
  const auto put_many = [&] {
    for (int i = 0; i < 20000; ++i) writer->put(reading(++ms, Point::canopy_temperature, 20));
    writer->flush();
  };
  while (log_size(here) <= options.log_noticed) put_many();
  EXPECT_EQ(writer->log_notice(), "") << "told when readings are next due";
  put_many();
  EXPECT_NE(writer->log_notice().find("close that program"), std::string::npos)
      << writer->log_notice();
  while (log_size(here) <= options.log_most) put_many();

  const std::int64_t stored = ms;
  const std::int64_t size = log_size(here);
  put_many();
  EXPECT_NE(writer->log_notice().find("readings wait in memory"), std::string::npos)
      << writer->log_notice();
  EXPECT_EQ(log_size(here), size);
  writer->put(numbered_event(ms, 1));
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  Shell now(here.file());
  EXPECT_EQ(now.value("SELECT count(*) FROM event"), "2") << "events go on";
  EXPECT_EQ(now.value("SELECT count(*) FROM reading"), std::to_string(stored));

  other.rows("COMMIT");
  writer->flush();
  EXPECT_EQ(writer->log_notice(), "");
  EXPECT_LT(log_size(here), options.log_noticed);
  EXPECT_EQ(now.value("SELECT count(*) FROM reading"), std::to_string(ms));
  EXPECT_EQ(writer->readings_lost(), 0U);
}

TEST(Fault, ReadingsThatALongLogKeepsInMemoryAreWrittenAtTheEnd) {
  const Directory here;
  Options options = options_for(here.file());
  options.log_noticed = options.log_most = 4096;
  Writer::open(options)->flush();  // the file is there
  Shell other(here.file());
  {
    const auto writer = Writer::open(options);
    writer->put(numbered_event(0, 0));
    writer->flush();
    other.rows("BEGIN");
    ASSERT_EQ(other.value("SELECT count(*) FROM event"), "1");
    writer->put(numbered_event(1, 1));
    writer->flush();
    writer->put(reading(1, Point::canopy_temperature, 20));
    writer->flush();
    ASSERT_EQ(Shell(here.file()).value("SELECT count(*) FROM reading"), "0");
  }
  EXPECT_EQ(Shell(here.file()).value("SELECT count(*) FROM reading"), "1");
}

// A small file system of its own.
class SmallDisk {
 public:
  explicit SmallDisk(const std::filesystem::path& at, const char* size = "size=1m") : at_(at) {
    std::filesystem::create_directory(at_);
    mounted_ = ::mount("none", at_.c_str(), "tmpfs", 0, size) == 0;
  }
  ~SmallDisk() {
    if (mounted_) ::umount2(at_.c_str(), MNT_DETACH);
  }
  SmallDisk(const SmallDisk&) = delete;
  SmallDisk& operator=(const SmallDisk&) = delete;
  bool mounted() const { return mounted_; }

 private:
  std::filesystem::path at_;
  bool mounted_ = false;
};

void fill_up(const std::string& ballast) {
  std::ofstream fill(ballast, std::ios::binary);
  const std::string block(4096, 'x');
  while (fill.write(block.data(), static_cast<std::streamsize>(block.size())).flush()) {
  }
}

TEST(Fault, AFullDiskIsSaidAndCaughtUpWithOnceThereIsRoom) {
  const Directory here;
  const SmallDisk disk(here.path() / "small");
  if (!disk.mounted()) GTEST_SKIP() << "mounting a tmpfs needs root";
  const std::string file = here.path() / "small" / "journal.db";
  const std::string ballast = here.path() / "small" / "ballast";

  const auto writer = Writer::open(options_for(file));
  writer->put(numbered_event(0, 0));
  writer->flush();
  ASSERT_FALSE(writer->trouble()) << writer->trouble_text();
  fill_up(ballast);
  for (int i = 1; i < 3000; ++i) writer->put(numbered_event(i, i));
  writer->flush();
  EXPECT_TRUE(writer->trouble());
  for (const char* words : {"database or disk is full", "free space on that disk"})
    EXPECT_NE(writer->trouble_text().find(words), std::string::npos) << writer->trouble_text();

  std::filesystem::remove(ballast);
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  Shell shell(file);
  EXPECT_EQ(shell.value("SELECT count(*), max(number), sum(value) FROM event"),
            "3000|3000|4498500");
  EXPECT_EQ(shell.value("SELECT count(*) FROM loss"), "0");
  EXPECT_EQ(shell.value("PRAGMA integrity_check"), "ok");
}

TEST(Fault, AFullDiskHasRoomForEventsWhileReadingsWait) {
  const Directory here;
  const SmallDisk disk(here.path() / "small", "size=4m");
  if (!disk.mounted()) GTEST_SKIP() << "mounting a tmpfs needs root";
  const std::string file = here.path() / "small" / "journal.db";
  const std::string reserve = file + ".reserve";
  Options options = options_for(file);
  options.reserve = 384 << 10;
  const auto writer = Writer::open(options);
  writer->put(numbered_event(0, 0));
  writer->flush();
  ASSERT_EQ(std::filesystem::file_size(reserve), 384u << 10);
  fill_up(here.path() / "small" / "ballast");

  for (int i = 1; i <= 1000; ++i) {
    writer->put(numbered_event(i, i));
    writer->put(reading(i, Point::canopy_temperature, 20));
  }
  writer->flush();  // meets the full disk
  writer->flush();  // and goes on in the room that was kept
  EXPECT_EQ(Shell(file).value("SELECT count(*) FROM event"), "1001");
  EXPECT_EQ(Shell(file).value("SELECT count(*) FROM reading"), "0");
  EXPECT_TRUE(writer->trouble());
  EXPECT_NE(writer->trouble_text().find("free space on that disk"), std::string::npos)
      << writer->trouble_text();
  EXPECT_FALSE(std::filesystem::exists(reserve));

  std::filesystem::remove(here.path() / "small" / "ballast");
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  EXPECT_EQ(Shell(file).value("SELECT count(*) FROM reading"), "1000");
  EXPECT_EQ(Shell(file).value("SELECT count(*) FROM loss"), "0");
  EXPECT_EQ(std::filesystem::file_size(reserve), 384u << 10);
}

TEST(Fault, AJournalThatIsOpenedOnAFullDiskGivesItsReserveUp) {
  const Directory here;
  const SmallDisk disk(here.path() / "small", "size=4m");
  if (!disk.mounted()) GTEST_SKIP() << "mounting a tmpfs needs root";
  const std::string file = here.path() / "small" / "journal.db";
  Options options = options_for(file);
  options.reserve = 384 << 10;
  Writer::open(options)->flush();
  ASSERT_TRUE(std::filesystem::exists(file + ".reserve"));
  fill_up(here.path() / "small" / "ballast");
  {
    const auto writer = Writer::open(options);
    for (int i = 1; i <= 100; ++i) writer->put(numbered_event(i, i));
    writer->put(reading(101, Point::canopy_temperature, 20));
    writer->flush();
    writer->flush();
    EXPECT_EQ(Shell(file).value("SELECT count(*) FROM event"), "100");
  }
  // A start later the room is still the events' alone, and what was lost at the stop is told.
  EXPECT_EQ(Shell(file).value("SELECT count(*) FROM reading"), "0");
  EXPECT_EQ(Shell(file).value("SELECT sum(readings) FROM loss"), "1");
  const auto writer = Writer::open(options);
  writer->put(reading(102, Point::canopy_temperature, 20));
  writer->flush();
  EXPECT_TRUE(writer->trouble());
  EXPECT_EQ(Shell(file).value("SELECT count(*) FROM reading"), "0");
}

TEST(Fault, AMissingDirectoryIsTroubleUntilItIsThere) {
  const Directory here;
  const std::string file = here.path() / "later" / "journal.db";
  const auto writer = Writer::open(options_for(file));
  writer->put(numbered_event(0, 7));
  writer->flush();
  EXPECT_TRUE(writer->trouble());
  EXPECT_NE(writer->trouble_text().find("create its directory"), std::string::npos)
      << writer->trouble_text();
  std::filesystem::create_directory(here.path() / "later");
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  EXPECT_EQ(Shell(file).value("SELECT value FROM event"), "7");
}

void overwrite(const std::string& path, std::streamoff from, std::streamoff to) {
  std::fstream file(path, std::ios::binary | std::ios::in | std::ios::out);
  file.seekp(from);
  for (std::streamoff i = from; i < to; ++i) file.put('\x5a');
}

void fill_with_events(const std::string& path, int count) {
  const auto writer = Writer::open(options_for(path));
  for (int i = 0; i < count; ++i) writer->put(numbered_event(i, i));
}

TEST(Fault, ADamagedFileIsSetAsideUnchangedAndANewOneSaysSo) {
  for (const auto& [from, to] : {std::pair{0, 16}, std::pair{8192, 40000}}) {
    SCOPED_TRACE(from);
    const Directory here;
    fill_with_events(here.file(), 3000);
    overwrite(here.file(), from, to);
    const auto damaged_size = std::filesystem::file_size(here.file());
    const std::string kept = here.file() + ".corrupt-4294967500";

    const auto writer = Writer::open(options_for(here.file()));
    writer->put(numbered_event(500, 1));
    writer->flush();
    EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
    ASSERT_TRUE(std::filesystem::exists(kept));
    EXPECT_EQ(std::filesystem::file_size(kept), damaged_size);
    Shell shell(here.file());
    EXPECT_EQ(shell.value("SELECT count(*), max(number) FROM event"), "1|1");
    EXPECT_EQ(shell.value("SELECT why FROM loss"),
              "the file before this one was damaged and set aside as " + kept);
    EXPECT_EQ(shell.value("PRAGMA integrity_check"), "ok");
  }
}

TEST(Fault, ANewerFileIsRefusedByBothSidesAndLeftAsItIs) {
  const Directory here;
  fill_with_events(here.file(), 1);
  Shell(here.file()).rows("PRAGMA user_version = 9000");
  {
    const auto writer = Writer::open(options_for(here.file()));
    writer->put(numbered_event(5, 5));
    writer->flush();
    EXPECT_TRUE(writer->trouble());
    EXPECT_NE(writer->trouble_text().find("newer than this program"), std::string::npos)
        << writer->trouble_text();
  }
  std::string error;
  EXPECT_EQ(Reader::open(here.file(), error), nullptr);
  EXPECT_NE(error.find("newer than this program"), std::string::npos) << error;
  Shell shell(here.file());
  EXPECT_EQ(shell.value("PRAGMA user_version"), "9000");
  EXPECT_EQ(shell.value("SELECT count(*) FROM event"), "1");
}

TEST(Fault, AForeignDatabaseIsRefusedAndLeftAsItIs) {
  const Directory here;
  { const std::ofstream create(here.file()); }
  Shell(here.file()).rows("CREATE TABLE photographs(name)");
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(numbered_event(5, 5));
  writer->flush();
  EXPECT_NE(writer->trouble_text().find("not a journal of neap"), std::string::npos)
      << writer->trouble_text();
  EXPECT_EQ(Shell(here.file()).value("SELECT group_concat(name) FROM sqlite_schema"),
            "photographs");
}

// The child becomes nobody, who may read the file and not write its directory, and prints nothing;
// its exit status says how far it came.
int read_as_nobody(const std::string& path) {
  const pid_t child = ::fork();
  if (child == 0) {
    constexpr uid_t kNobody = 65534;
    if (::setgid(kNobody) != 0 || ::setuid(kNobody) != 0) ::_exit(2);
    std::string error;
    const auto reader = Reader::open(path, error);
    if (!reader) ::_exit(3);
    ::_exit(reader->events({}, {}, 10).size() == 3 && reader->trouble().empty() ? 0 : 4);
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

TEST(Fault, AnotherUserReadsTheJournalWithTheDaemonStoppedOrRunning) {
  if (::getuid() != 0) GTEST_SKIP() << "becoming another user needs root";
  const Directory here;
  std::filesystem::permissions(here.path(), std::filesystem::perms{0755});
  const auto readable = [&] {
    for (const auto& entry : std::filesystem::directory_iterator(here.path()))
      std::filesystem::permissions(entry, std::filesystem::perms{0644});
  };
  {
    const auto writer = Writer::open(options_for(here.file()));
    for (int i = 0; i < 3; ++i) writer->put(numbered_event(i, i));
    writer->flush();
    readable();
    EXPECT_EQ(read_as_nobody(here.file()), 0) << "while the writer runs";
  }
  EXPECT_TRUE(std::filesystem::exists(here.file() + "-wal")) << "the log stays";
  EXPECT_EQ(read_as_nobody(here.file()), 0) << "after the writer has gone";
  std::filesystem::remove(here.file() + "-wal");
  std::filesystem::remove(here.file() + "-shm");
  EXPECT_EQ(read_as_nobody(here.file()), 0) << "from a copy without the log's files";
}

}  // namespace
}  // namespace neap::journal::testing
