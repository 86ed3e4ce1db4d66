// The real binary: killed in mid-flood, started on ruined settings, stopped politely. The pump is a
// level_file in a folder of the test, so that its line is seen from outside the process.
#include <sched.h>
#include <sys/mount.h>

#include "daemon/journal/reader.h"
#include "tests/shell/process_run.h"

namespace neap::shell {
namespace {

TEST_F(ProcessTest, KilledInMidFloodItIsSafeAgainBeforeTheNextStartIsReadyAndTheBudgetStaysSpent) {
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGKILL);
  EXPECT_EQ(wait_for(pid), -SIGKILL);
  EXPECT_EQ(pump(), "1");  // nobody is left to stop it: the file keeps its level
  start();
  EXPECT_TRUE(eventually([&] { return pump() == "0"; }));
  std::string status;
  EXPECT_TRUE(eventually([&] {
    status = ask(R"({"id":1,"verb":"status"})");
    return !status.empty();
  }));
  EXPECT_EQ(pump(), "0");
  EXPECT_EQ(status.find("\"day_s\":0.0"), std::string::npos) << "the pump's debit was forgotten";
}

TEST_F(ProcessTest, WithRuinedSettingsThePumpIsStoppedAllTheSame) {
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGKILL);
  wait_for(pid);
  write("settings.yaml", "neap: 1\nname: [");
  ::unlink((dir / "state/journal.db").c_str());  // nor is there an older revision to fall back on
  start();
  EXPECT_EQ(wait_for(pid), 3);
  pid = 0;
  EXPECT_EQ(pump(), "0");
}

TEST_F(ProcessTest, WithRuinedSettingsItRunsOnTheRevisionBefore) {
  start();
  ASSERT_TRUE(eventually([&] { return !ask(R"({"id":1,"verb":"ping"})").empty(); }));
  ::kill(pid, SIGTERM);
  EXPECT_EQ(wait_for(pid), 0);
  write("settings.yaml", "neap: 1\nname: [");
  start();
  EXPECT_TRUE(eventually([&] { return !ask(R"({"id":1,"verb":"ping"})").empty(); }));
}

TEST_F(ProcessTest, AskedToStopInMidFloodItStopsThePumpAndLeavesProperly) {
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGTERM);
  EXPECT_EQ(wait_for(pid), 0);
  pid = 0;
  EXPECT_EQ(pump(), "0");
  StateFile file(dir / "state/state", false);
  EXPECT_TRUE(file.load().stored->boot.clean_stop);
}

TEST_F(ProcessTest, OutputsSafeStopsThePumpOfADeadDaemonFromTheManifestAlone) {
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGKILL);
  wait_for(pid);
  write("settings.yaml", "");
  pid_t helper = 0;
  EXPECT_EQ(run_program({places::in_build("neap-outputs-safe"), dir / "state"}, true, helper), 0);
  EXPECT_EQ(pump(), "0");
  EXPECT_EQ(run_program({places::in_build("neap-outputs-safe"), dir.path()}, true, helper), 4);
  pid = 0;
}

// What a full card does to everything but the pump's own line. The child keeps it to its end.
bool fill_the_card() {
  new FullCard;
  return true;
}

TEST_F(ProcessTest, OnAFullCardItStartsInSafeModeWithThePumpStoppedAndSaysWhatToDo) {
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGKILL);
  wait_for(pid);
  ASSERT_EQ(pump(), "1");
  start(fill_the_card);
  expect_safe_mode_that_names_the_disk();
}

TEST_F(ProcessTest, OnAFullCardAFirstRunAnswersToo) {
  start(fill_the_card);
  expect_safe_mode_that_names_the_disk();
}

TEST_F(ProcessTest, OnACardThatTurnedReadOnlyItStartsInSafeModeWithThePumpStopped) {
  if (::geteuid() != 0) GTEST_SKIP() << "making a disk read-only needs root";
  start();
  ASSERT_TRUE(flood_runs());
  ::kill(pid, SIGKILL);
  wait_for(pid);
  ASSERT_EQ(pump(), "1");
  const std::string state = dir / "state";
  start([state] {
    const char* const path = state.c_str();
    return ::unshare(CLONE_NEWNS) == 0 &&
           ::mount(nullptr, "/", nullptr, MS_REC | MS_PRIVATE, nullptr) == 0 &&
           ::mount(path, path, nullptr, MS_BIND, nullptr) == 0 &&
           ::mount(nullptr, path, nullptr, MS_BIND | MS_REMOUNT | MS_RDONLY, nullptr) == 0;
  });
  expect_safe_mode_that_names_the_disk();
}

// The state file is written on change; the journal may know of a later tick. The half hour of safe
// mode counts from there.
TEST_F(ProcessTest, SafeModeLastsItsHalfHourFromTheNewestTickOfTheJournal) {
  const std::int64_t saved = 4294967000;
  const std::int64_t journalled = saved + Millis{minutes{5}}.count();
  {
    BootRecord record;
    record.last_tick = saved;
    record.dirty_starts = {saved - 60'000, saved};
    record.dirty_count = 2;
    StateFile file(dir / "state/state", true);
    ASSERT_EQ(file.save({{}, record}), "");
    journal::Options options;
    options.path = dir / "state/journal.db";
    const auto writer = journal::Writer::open(options);
    writer->put(journal::EventEntry{instant(Millis{journalled}), Event{}});
    writer->flush();
    ASSERT_FALSE(writer->trouble()) << writer->trouble_text();
  }
  start();
  ASSERT_TRUE(eventually([&] { return !ask(R"({"id":1,"verb":"ping"})").empty(); }));
  // neapd saves more than once at its start, in place: a look beside it may find both slots half
  // written.
  std::optional<Stored> stored;
  ASSERT_TRUE(eventually([&] {
    stored = StateFile(dir / "state/state", true).load().stored;
    return stored.has_value();
  }));
  EXPECT_EQ(stored->boot.dirty_count, 3);
  EXPECT_GE(stored->boot.safe_mode_until, journalled + Boot::kSafeMode.count());
}

// The state directory was emptied, or is another one than before: the journal knows better.
TEST_F(ProcessTest, AStateLostBesideALivingJournalHoldsFloodsUntilAPersonHasLooked) {
  start();
  status();
  ::kill(pid, SIGTERM);
  EXPECT_EQ(wait_for(pid), 0);
  for (const char* name : {"state", "outputs.a", "outputs.b"})
    EXPECT_EQ(::unlink((dir / ("state/" + std::string(name))).c_str()), 0);
  start();
  const std::string now = status();
  EXPECT_NE(now.find(R"("latch":"state")"), std::string::npos) << now;
  EXPECT_EQ(now.find("\"day_s\":0.0"), std::string::npos) << "nor is the day's budget known";
}

TEST_F(ProcessTest, ASecondDaemonOnTheSameStateIsRefused) {
  start();
  ASSERT_TRUE(eventually([&] { return !ask(R"({"id":1,"verb":"ping"})").empty(); }));
  pid_t second = 0;
  EXPECT_EQ(
      run_program({places::in_build("neapd"), "--settings", dir / "settings.yaml", "--state-dir",
                   dir / "state", "--journal", dir / "other.db", "--socket", dir / "other"},
                  true, second),
      4);
}

TEST_F(ProcessTest, AMeasurementWrittenWhileItWasDownIsTakenInAndItsFileGoes) {
  EXPECT_EQ(::mkdir((dir / "state/spool").c_str(), 0750), 0);
  write("state/spool/a1.json", R"({"spool_id":"a1","values":{"ph":5.9}})");
  write("state/spool/a2.json", R"({"spool_id":"a2","values":{"ph":59}})");
  start();
  EXPECT_TRUE(eventually(
      [&] { return ::access((dir / "state/spool/a2.json.refused").c_str(), F_OK) == 0; }));
  ::kill(pid, SIGTERM);
  EXPECT_EQ(wait_for(pid), 0);
  pid = 0;
  std::string error;
  const auto reader = journal::Reader::open(dir / "state/journal.db", error);
  ASSERT_TRUE(reader) << error;
  const auto rows = reader->measurements({});
  ASSERT_EQ(rows.size(), 1u);
  EXPECT_EQ(rows[0].value, 5.9);
}

}  // namespace
}  // namespace neap::shell
