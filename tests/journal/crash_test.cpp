// What was acknowledged stays, once, in order and numbered without a gap: over kills and over syncs
// that fail.
#include <sys/wait.h>

#include <csignal>

#include "tests/journal/support.h"
#include "tests/journal/watched_disk.h"

namespace neap::journal::testing {
namespace {

// Writes events with ever higher values, and after each flush tells the highest one through the
// pipe. It never comes back: it is killed.
[[noreturn]] void write_until_killed(const std::string& path, int run, int out) {
  const auto writer = Writer::open(options_for(path));
  writer->put(boot(run * 1000000, false));
  for (std::int32_t value = run * 1000000;; ++value) {
    writer->put(numbered_event(value, value));
    writer->put(reading(value, Point::canopy_temperature, 20));
    if (value % 7 != 0) continue;
    writer->flush();
    if (writer->trouble() || ::write(out, &value, sizeof value) != sizeof value) ::_exit(1);
  }
}

TEST(Crash, TwentyKillsLoseNoAcknowledgedEventAndLeaveNoGap) {
  const Directory here;
  for (int run = 0; run < 20; ++run) {
    SCOPED_TRACE(run);
    int ends[2];
    ASSERT_EQ(::pipe(ends), 0);
    const pid_t child = ::fork();
    if (child == 0) {
      ::close(ends[0]);
      write_until_killed(here.file(), run, ends[1]);
    }
    ::close(ends[1]);
    // Some runs are cut short at once, others after a while; the write under way is a matter of
    // luck.
    std::int32_t acknowledged = -1;
    for (int seen = 0; seen < 1 + run * 3; ++seen)
      ASSERT_EQ(::read(ends[0], &acknowledged, sizeof acknowledged),
                static_cast<ssize_t>(sizeof acknowledged))
          << "the child ended by itself";
    ::kill(child, SIGKILL);
    ::waitpid(child, nullptr, 0);
    std::int32_t more = 0;
    while (::read(ends[0], &more, sizeof more) == static_cast<ssize_t>(sizeof more))
      acknowledged = more;
    ::close(ends[0]);

    Shell shell(here.file());
    EXPECT_EQ(shell.value("PRAGMA quick_check"), "ok");
    EXPECT_EQ(shell.value("SELECT count(*) = max(number) AND min(number) = 1 FROM event"), "1");
    EXPECT_EQ(shell.value("SELECT max(value) >= " + std::to_string(acknowledged) + " FROM event"),
              "1");
    const std::string first = std::to_string(run * 1000000);
    EXPECT_EQ(shell.value("SELECT count(*) - 1 = max(value) - min(value) AND min(value) = " +
                          first + " FROM event WHERE value >= " + first),
              "1")
        << "none missing among them, none twice";
    EXPECT_EQ(shell.value("SELECT count(*) FROM event a JOIN event b ON b.number = a.number + 1 "
                          "WHERE b.value <= a.value"),
              "0")
        << "in order";
    EXPECT_EQ(shell.value("SELECT max(k) / 256 - " + std::to_string(kStart) +
                          " >= " + std::to_string(acknowledged) + " FROM reading"),
              "1");
  }
}

TEST(Crash, ABatchWhoseSyncFailedThoughItReachedTheDiskIsNotWrittenTwice) {
  const Directory here;
  WatchedDisk disk;
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(numbered_event(0, 0));
  writer->flush();
  ASSERT_FALSE(writer->trouble()) << writer->trouble_text();

  // The log holds the batch all the same, and the next connection finds it there.
  disk.syncs_to_fail = 1;
  writer->put(numbered_event(1, 1));
  writer->put(numbered_event(2, 2));
  writer->flush();
  EXPECT_TRUE(writer->trouble());
  ASSERT_EQ(disk.syncs_to_fail, 0) << "the fault was met";
  writer->put(numbered_event(3, 3));
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  EXPECT_EQ(Shell(here.file()).rows("SELECT number, value FROM event"),
            (std::vector<std::string>{"1|0", "2|1", "3|2", "4|3"}));
}

TEST(Crash, ABatchThatDidNotReachTheDiskIsWrittenFromMemory) {
  const Directory here;
  WatchedDisk disk;
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(numbered_event(0, 0));
  writer->flush();
  disk.writes_to_fail = 1;
  writer->put(numbered_event(1, 1));
  writer->put(reading(1, Point::canopy_temperature, 21));
  writer->flush();
  EXPECT_TRUE(writer->trouble());
  EXPECT_NE(writer->trouble_text().find("failing card or disk"), std::string::npos)
      << writer->trouble_text();
  ASSERT_EQ(disk.writes_to_fail, 0) << "the fault was met";
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  Shell shell(here.file());
  EXPECT_EQ(shell.rows("SELECT number, value FROM event"),
            (std::vector<std::string>{"1|0", "2|1"}));
  EXPECT_EQ(shell.value("SELECT count(*) FROM reading"), "1");
}

TEST(Crash, ADiskThatFailsAgainAndAgainLosesNothingAndRepeatsNothing) {
  const Directory here;
  WatchedDisk disk;
  const auto writer = Writer::open(options_for(here.file()));
  for (int i = 0; i < 60; ++i) {
    // All mixtures of none to three failing syncs and none to two failing writes.
    disk.syncs_to_fail = i % 4;
    disk.writes_to_fail = i % 5 % 3;
    writer->put(numbered_event(i, i));
    writer->flush();
  }
  disk.syncs_to_fail = disk.writes_to_fail = 0;
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  Shell shell(here.file());
  EXPECT_EQ(shell.value("SELECT count(*), max(number), count(DISTINCT value), sum(value) "
                        "FROM event"),
            "60|60|60|1770");
  EXPECT_EQ(shell.value("SELECT count(*) FROM event WHERE value <> number - 1"), "0");
}

}  // namespace
}  // namespace neap::journal::testing
