#include <sys/stat.h>

#include <atomic>
#include <chrono>
#include <future>

#include "tests/journal/support.h"
#include "tests/journal/watched_disk.h"

namespace neap::journal::testing {
namespace {

constexpr auto kPatience = std::chrono::seconds{20};

// Asks again and again, for as long as a test has patience, until the answer is the wanted one.
std::string answer_in_time(Shell& shell, const std::string& sql, const std::string& wanted) {
  const auto deadline = std::chrono::steady_clock::now() + kPatience;
  std::string answer = shell.value(sql);
  while (answer != wanted && std::chrono::steady_clock::now() < deadline) answer = shell.value(sql);
  return answer;
}

TEST(Writer, APutReadingIsInTheFileAfterAFlush) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(reading(0, Point::canopy_temperature, 24.31));
  writer->flush();
  EXPECT_FALSE(writer->trouble()) << writer->trouble_text();
  EXPECT_EQ(Shell(here.file()).value("SELECT k >> 8, k & 255, v, q FROM reading"),
            "4294967000|1|2431|2");
}

TEST(Writer, EventsReachTheFileWithoutAFlushAndReadingsWaitForTheirBatch) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  writer->flush();  // the tables are there
  writer->put(reading(0, Point::canopy_temperature, 24.3));
  writer->put(numbered_event(0, 7));
  Shell shell(here.file());
  EXPECT_EQ(answer_in_time(shell, "SELECT count(*) FROM event", "1"), "1");
  EXPECT_EQ(shell.value("SELECT count(*) FROM reading"), "0");
}

TEST(Writer, AMinuteOfTicksSendsTheReadingsOff) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  writer->flush();
  writer->put(reading(0, Point::canopy_temperature, 24.3));
  writer->put(reading(60000, Point::canopy_temperature, 24.4));
  Shell shell(here.file());
  EXPECT_EQ(answer_in_time(shell, "SELECT count(*) FROM reading", "2"), "2");
}

// A scan's first reading sends the minute's batch off; the scan's others come while it is written.
TEST(Writer, ReadingsThatComeWhileABatchIsWrittenWaitForTheNext) {
  const Directory here;
  WatchedDisk disk;
  std::promise<void> batch_stored;
  std::promise<void> others_put;
  std::atomic<bool> watching = false;
  disk.on_commit = [&] {
    if (!watching.exchange(false)) return;
    batch_stored.set_value();
    others_put.get_future().wait_for(kPatience);
  };
  const auto writer = Writer::open(options_for(here.file()));
  writer->flush();
  watching = true;
  writer->put(reading(0, Point::canopy_temperature, 24.3));
  writer->put(reading(60000, Point::canopy_temperature, 24.4));
  ASSERT_EQ(batch_stored.get_future().wait_for(kPatience), std::future_status::ready);
  writer->put(reading(60000, Point::canopy_humidity, 61));
  writer->put(reading(60000, Point::canopy_vpd, 1.2));
  others_put.set_value();
  writer->put(numbered_event(60000, 7));
  Shell shell(here.file());
  EXPECT_EQ(answer_in_time(shell, "SELECT count(*) FROM event", "1"), "1");
  EXPECT_EQ(shell.value("SELECT count(*) FROM reading"), "2");
}

TEST(Writer, ClosingWritesWhatWaits) {
  const Directory here;
  {
    const auto writer = Writer::open(options_for(here.file()));
    for (int i = 0; i < 1000; ++i)
      writer->put(reading(i * 10, Point::canopy_humidity, 50 + i * 0.01));
    writer->put(numbered_event(5, 1));
  }
  Shell shell(here.file());
  EXPECT_EQ(shell.value("SELECT count(*), max(v) FROM reading"), "1000|5999");
  EXPECT_EQ(shell.value("SELECT count(*) FROM event"), "1");
}

TEST(Writer, TheFileAndItsLogAreReadableByTheGroupAndClosedToOthers) {
  const Directory here;
  const mode_t before = ::umask(0077);
  const auto writer = Writer::open(options_for(here.file()));
  writer->put(numbered_event(0, 1));
  writer->flush();
  ::umask(before);
  for (const char* tail : {"", "-wal", "-shm"}) {
    struct stat seen {};
    ASSERT_EQ(::stat((here.file() + tail).c_str(), &seen), 0) << tail;
    EXPECT_EQ(seen.st_mode & 0777, 0640U) << tail;
  }
}

TEST(Writer, EventNumbersRunOnOverAReopenedFile) {
  const Directory here;
  for (int run = 0; run < 3; ++run) {
    const auto writer = Writer::open(options_for(here.file()));
    for (int i = 0; i < 5; ++i) writer->put(numbered_event(run * 100 + i, i));
  }
  EXPECT_EQ(Shell(here.file()).value("SELECT min(number), max(number), count(*) FROM event"),
            "1|15|15");
}

TEST(Writer, TheNewestTickIsThatOfTheLatestRowOfAnyTable) {
  const Directory here;
  EXPECT_EQ(newest_tick(here.file()), std::nullopt);
  {
    const auto writer = Writer::open(options_for(here.file()));
    writer->put(boot(0));
    writer->put(reading(5000, Point::canopy_temperature, 24.3));
    writer->put(numbered_event(2000, 1));
  }
  EXPECT_EQ(newest_tick(here.file()), at(5000));
  {
    const auto writer = Writer::open(options_for(here.file()));
    writer->put(StopEntry{at(9000), "asked to stop"});
  }
  EXPECT_EQ(newest_tick(here.file()), at(9000));
}

TEST(Writer, AMeasurementHandedInTwiceIsTakenInOnce) {
  const Directory here;
  const auto writer = Writer::open(options_for(here.file()));
  const MeasurementEntry entry{at(0), "a1", kNoonUnixMs, "ph", 5.9, "after top-up"};
  writer->put(entry);
  writer->put(entry);
  writer->flush();
  writer->put(entry);
  writer->flush();
  EXPECT_EQ(Shell(here.file()).value("SELECT count(*), min(value) FROM measurement"), "1|5.9");
}

TEST(Writer, AVirtualClockIsKeptUpWithAndLosesNothing) {
  const Directory here;
  Options options = options_for(here.file());
  options.durability = Durability::simulated;
  constexpr int kReadings = 700000;  // several times what may wait
  {
    const auto writer = Writer::open(options);
    for (int i = 0; i < kReadings; ++i)
      writer->put(reading(i * 100, Point::canopy_temperature, 20 + (i % 500) * 0.01));
    for (int i = 0; i < 30000; ++i) writer->put(numbered_event(i, i));
    writer->flush();
    EXPECT_EQ(writer->readings_lost(), 0U);
  }
  Shell shell(here.file());
  ASSERT_EQ(shell.load_extension(), "");
  EXPECT_EQ(shell.value("SELECT count(*) FROM neap_readings"), std::to_string(kReadings));
  EXPECT_EQ(shell.value("SELECT count(*), max(number), sum(value) FROM event"),
            "30000|30000|449985000");
}

}  // namespace
}  // namespace neap::journal::testing
