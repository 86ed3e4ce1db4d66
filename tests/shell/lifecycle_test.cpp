// Goal: what an update, its withdrawal and a restore leave on the disk never gives the pump more
// than was known, and a later neap's files are never touched. Method: the real neapd on such files.
#include <sqlite3.h>

#include "daemon/journal/reader.h"
#include "tests/shell/process_run.h"

namespace neap::shell {
namespace {

class Lifecycle : public ProcessTest {
 protected:
  void stop() {
    ::kill(pid, SIGTERM);
    EXPECT_EQ(wait_for(pid), 0);
    pid = 0;
  }
  std::string bytes(const std::string& name) const {
    return read_file(dir / name, 64u << 20).value_or("none");
  }
  static Stored latched(Latch latch) {
    Stored stored;
    stored.kept.kernel.latched[static_cast<std::size_t>(latch)] = true;
    return stored;
  }
  // neapd on these files: every output safe, nothing granted, nothing written, and it says why.
  void expect_untouched(const std::string& why) {
    const char* const files[] = {"state/state", "state/outputs.a", "state/outputs.b",
                                 "state/journal.db", "state/journal.db-wal"};
    write("state/spool/a1.json", R"({"spool_id":"a1","values":{"ph":5.9}})");
    write("pump", "1");
    std::vector<std::string> before;
    for (const char* name : files) before.push_back(bytes(name));
    start();
    EXPECT_TRUE(eventually([&] { return pump() == "0"; }));
    const std::string now = status();
    EXPECT_NE(now.find("\"safe_mode\":true"), std::string::npos) << now;
    EXPECT_NE(now.find("a later neap wrote here"), std::string::npos) << now;
    EXPECT_NE(now.find(why), std::string::npos) << now;
    for (const char* request :
         {R"({"id":7,"verb":"flood","args":{"action":"start"}})", R"({"id":8,"verb":"apply"})",
          R"({"id":9,"verb":"measure","args":{"values":{"ph":5.9}}})"}) {
      const std::string answer = ask(request);
      EXPECT_EQ(answer.find("\"ok\":true"), std::string::npos) << answer;
      EXPECT_NE(answer.find(why), std::string::npos) << answer;
    }
    ::kill(pid, SIGHUP);  // a reload writes a manifest
    status();
    stop();
    EXPECT_EQ(pump(), "0");
    for (std::size_t i = 0; i < before.size(); ++i)
      EXPECT_EQ(bytes(files[i]), before[i]) << files[i];
    EXPECT_EQ(::access((dir / "state/spool/a1.json").c_str(), F_OK), 0) << "nor is the spool taken";
  }
  void run_once() {
    start();
    status();
    stop();
  }
};

TEST_F(Lifecycle, AJournalOfALaterNeapIsNotWrittenAndEveryOutputIsSafe) {
  run_once();
  sqlite3* db = nullptr;
  sqlite3_open((dir / "state/journal.db").c_str(), &db);
  int on = 1;  // as neapd leaves the file
  sqlite3_file_control(db, "main", SQLITE_FCNTL_PERSIST_WAL, &on);
  EXPECT_EQ(sqlite3_exec(db, "PRAGMA user_version = 1000", nullptr, nullptr, nullptr), SQLITE_OK);
  sqlite3_close(db);
  expect_untouched("is newer than this program");
}

TEST_F(Lifecycle, AStateWithAFieldOfALaterNeapIsNotWrittenAndEveryOutputIsSafe) {
  run_once();
  StateFile file(dir / "state/state", true);
  const Stored stored = *file.load().stored;
  std::string whole(kStateFileBytes, '\0');
  for (const std::size_t at : {std::size_t{0}, kStateSlotBytes}) {
    const std::string slot = state_slot(1000, to_text(stored) + "latch.of_tomorrow 1\n");
    whole.replace(at, slot.size(), slot);
  }
  write("state/state", whole);
  expect_untouched("a later neap has written the state");
}

TEST_F(Lifecycle, AStateInALaterFormIsNotWrittenAndEveryOutputIsSafe) {
  run_once();
  std::string whole = bytes("state/state");
  for (const std::size_t at : {std::size_t{0}, kStateSlotBytes})
    whole.replace(at, 13, "neap-state 2 ");
  write("state/state", whole);
  expect_untouched("a later neap has written the state");
}

TEST_F(Lifecycle, AfterARestoreTheBudgetIsSpentALatchHoldsFloodsAndLaterLatchesStandAgain) {
  run_once();
  EXPECT_EQ(::mkdir((dir / "state/before-restore").c_str(), 0750), 0);
  ASSERT_EQ(StateFile(dir / "state/before-restore/state", true).save(latched(Latch::pump_welded)),
            "");
  write("state/restored", (dir / "state/before-restore/state") + "\n" + (dir / "nowhere") + "\n");
  start();
  const std::string now = status();
  EXPECT_NE(now.find(R"("latch":"state")"), std::string::npos) << now;
  EXPECT_NE(now.find(R"("latch":"weld")"), std::string::npos) << now;
  EXPECT_EQ(now.find("\"day_s\":0.0"), std::string::npos) << "the day's budget is not known";
  const std::string refused = ask(R"({"id":7,"verb":"flood","args":{"action":"start"}})");
  EXPECT_EQ(refused.find("\"ok\":true"), std::string::npos) << refused;
  EXPECT_NE(::access((dir / "state/restored").c_str(), F_OK), 0) << "once, not at every start";
  stop();
  const auto kept = StateFile(dir / "state/state", true).load().stored->kept.kernel.latched;
  EXPECT_TRUE(kept[static_cast<std::size_t>(Latch::state_lost)]);
  EXPECT_TRUE(kept[static_cast<std::size_t>(Latch::pump_welded)]);
}

TEST_F(Lifecycle, WithACardThatTakesNoStateTheMarkOfARestoreStays) {
  run_once();
  write("state/restored", "");
  start([] {
    new FullCard;
    return true;
  });
  status();
  EXPECT_EQ(::access((dir / "state/restored").c_str(), F_OK), 0);
}

TEST_F(Lifecycle, WhileARestoreIsHalfDoneItMakesOutputsSafeAndDoesNotRun) {
  run_once();
  write("pump", "1");
  write("state/restoring", "before-restore");
  start();
  EXPECT_EQ(wait_for(pid), kExitCannotStart);
  pid = 0;
  EXPECT_EQ(pump(), "0");
}

// A power cut between the state's save and the marker's end: the same again is no harm.
TEST_F(Lifecycle, AMarkThatComesBackIsTakenAgain) {
  for (int i = 0; i < 2; ++i) {
    run_once();
    write("state/restored", "");
  }
  start();
  EXPECT_NE(status().find(R"("latch":"state")"), std::string::npos);
}

}  // namespace
}  // namespace neap::shell
