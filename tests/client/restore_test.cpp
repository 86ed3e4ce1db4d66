// Goal: a backup comes back whole or not at all, nothing that was there is lost, and neapd is told
// that it is old. Method: the files of a tent, a backup of them, and every way to spoil either.
#include "daemon/journal/reader.h"
#include "tests/client/backup_bench.h"

namespace neap::client::testing {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

class Restores : public Backups {
 protected:
  Restores() {
    backup_ = back_up();
    state_then_ = slurp(state() / "state");
  }
  // What happened after the backup.
  void live_on() {
    put_events(10);
    put_state(2, tick_, "latch.leak 1\n");
    write("lib/outputs.a", "manifest of later\n");
    write("lib/spool/two.json", "{\"told\": 1}");
  }
  Said restore(std::vector<std::string> more = {}) {
    writer_.reset();
    more.insert(more.begin(), {"restore", backup_.string()});
    return run(more);
  }
  std::size_t events(const fs::path& journal) const {
    std::string error;
    const auto reader = journal::Reader::open(journal.string(), error);
    EXPECT_TRUE(reader) << error;
    return reader ? reader->events({}, {}, 1000).size() : 0;
  }
  void spoil(const std::string& name, std::size_t at) const {
    std::string bytes = slurp(backup_ / name);
    bytes[at] = static_cast<char>(bytes[at] ^ 1);
    std::ofstream(backup_ / name, std::ios::binary | std::ios::trunc) << bytes;
  }

  fs::path backup_;
  std::string state_then_;
};

TEST_F(Restores, AfterADeadCardAllIsThereAgainAndMarkedAsOld) {
  writer_.reset();
  fs::remove_all(state());
  fs::remove_all(here("etc"));
  const Said said = restore();
  ASSERT_EQ(said.code, kExitDone) << said.err;
  EXPECT_EQ(events(state() / "journal.db"), 50u);
  EXPECT_EQ(slurp(state() / "state"), state_then_);
  EXPECT_EQ(slurp(state() / "outputs.b"), "manifest b\n");
  EXPECT_TRUE(fs::exists(state() / "spool/one.json"));
  EXPECT_EQ(slurp(here("etc/tent.yaml")), slurp(places::in_project("config/demo.yaml")));
  EXPECT_THAT(names_in(state()),
              ElementsAre("journal.db", "outputs.a", "outputs.b", "restored", "spool", "state"));
  EXPECT_THAT(whole(said.out), HasSubstr("`neap reset state`"));
  for (const std::string& line : lines_of(said.out)) EXPECT_LE(line.size(), kPageWidth) << line;
}

TEST_F(Restores, WhatIsHereAndNewerIsRefusedUntilToldAndThenSetAside) {
  live_on();
  const Said refused = restore();
  EXPECT_EQ(refused.code, kExitRefused);
  EXPECT_THAT(whole(refused.err), HasSubstr("goes on after the backup: by 10 s"));
  EXPECT_THAT(whole(refused.err), HasSubstr("--over-newer"));
  EXPECT_EQ(events(state() / "journal.db"), 60u);
  EXPECT_FALSE(fs::exists(state() / "restored"));

  const Said said = restore({"--over-newer"});
  ASSERT_EQ(said.code, kExitDone) << said.err;
  EXPECT_EQ(events(state() / "journal.db"), 50u);
  const fs::path aside = state() / "before-restore";
  EXPECT_EQ(events(aside / "journal.db"), 60u);
  EXPECT_EQ(slurp(aside / "outputs.a"), "manifest of later\n");
  EXPECT_EQ(slurp(state() / "restored"), (aside / "state").string() + "\n")
      << "neapd looks there for latches";
  EXPECT_THAT(slurp(aside / "state"), HasSubstr("latch.leak 1"));
  EXPECT_THAT(names_in(state() / "spool"), ElementsAre("one.json", "two.json"))
      << "what was told and is in no journal stays";
}

TEST_F(Restores, AJournalThatOnlyLosesItsEndIsNotNewer) {
  writer_.reset();
  put_state(7, kStart);
  EXPECT_EQ(restore().code, kExitDone);
}

TEST_F(Restores, ASecondRestoreKeepsTheFirstOnesOldFilesAndItsLatches) {
  live_on();
  ASSERT_EQ(restore({"--over-newer"}).code, kExitDone);
  ASSERT_EQ(restore().code, kExitDone);
  EXPECT_THAT(names_in(state()), Contains("before-restore-2"));
  EXPECT_EQ(events(state() / "before-restore/journal.db"), 60u);
  EXPECT_EQ(slurp(state() / "restored"), (state() / "before-restore/state").string() + "\n" +
                                             (state() / "before-restore-2/state").string() + "\n");
}

TEST_F(Restores, WhileNeapdRunsItIsRefused) {
  const int held = ::open(state().c_str(), O_RDONLY | O_DIRECTORY);
  ASSERT_EQ(::flock(held, LOCK_EX), 0);
  const Said said = restore();
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_THAT(whole(said.err), HasSubstr("neapd runs on"));
  ::close(held);
}

TEST_F(Restores, ABackupWithAnyFileSpoiltMissingOrAddedIsRefusedAndNothingChanges) {
  const std::vector<std::string> before = names_in(state());
  const auto refused = [&](const std::string& text) {
    const Said said = restore();
    EXPECT_EQ(said.code, kExitFailed) << said.out;
    EXPECT_THAT(whole(said.err), HasSubstr(text));
    EXPECT_EQ(names_in(state()), before);
  };
  for (const char* name : {"journal.db", "state/state", "settings/tent.yaml", "about.json"}) {
    spoil(name, 50);
    refused("is damaged: its SHA-256");
    spoil(name, 50);
  }
  spoil("SHA256SUMS", 0);
  refused("SHA256SUMS");
  spoil("SHA256SUMS", 0);
  const std::string whole = slurp(backup_ / "journal.db");
  fs::resize_file(backup_ / "journal.db", whole.size() / 2);
  refused("is damaged");
  fs::remove(backup_ / "journal.db");
  refused("is missing");
  std::ofstream(backup_ / "journal.db", std::ios::binary) << whole;
  std::ofstream(backup_ / "state/spool/two.json") << "{}";
  refused("is not in SHA256SUMS");
  fs::remove(backup_ / "state/spool/two.json");
  fs::create_symlink("/etc/passwd", backup_ / "settings/link.yaml");
  refused("is neither a file nor a folder");
  fs::remove(backup_ / "settings/link.yaml");
  EXPECT_EQ(restore().code, kExitDone) << "all of it undone";
}

TEST_F(Restores, OnAFullDiskNothingIsChanged) {
  live_on();
  writer_.reset();
  const std::vector<std::string> before = names_in(state());
  const std::string state_before = slurp(state() / "state");
  for (const rlim_t most : {0u, 10'000u, 100'000u}) {
    const FullDisk disk(most);
    EXPECT_EQ(restore({"--over-newer"}).code, kExitFailed) << most;
    EXPECT_EQ(names_in(state()), before) << most;
    EXPECT_EQ(slurp(state() / "state"), state_before);
  }
}

TEST_F(Restores, OneThatWasCutOffIsEndedByTheSameAgainAndTheOldFilesAreTheFirstOnes) {
  live_on();
  writer_.reset();
  // As a power cut leaves it: the old journal and the old state are aside, the new state in place.
  const fs::path aside = state() / "before-restore";
  fs::create_directory(aside);
  write("lib/restoring", "before-restore");
  for (const char* name : {"journal.db", "journal.db-wal", "journal.db-shm", "state"})
    fs::rename(state() / name, aside / name);
  fs::copy_file(backup_ / "state/state", state() / "state");
  const Said said = restore();
  ASSERT_EQ(said.code, kExitDone) << said.err;
  EXPECT_EQ(events(state() / "journal.db"), 50u);
  EXPECT_EQ(events(aside / "journal.db"), 60u);
  EXPECT_THAT(slurp(aside / "state"), HasSubstr("latch.leak 1"));
  EXPECT_THAT(names_in(state()), Not(Contains("restoring")));
  EXPECT_THAT(names_in(state()), Not(Contains("before-restore-2")));
}

TEST_F(Restores, SettingsThatAreThereStayAndTheDifferenceIsTold) {
  write("etc/tent.yaml", slurp(here("etc/tent.yaml")) + "# mine\n");
  const Said said = restore();
  ASSERT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(whole(said.out), HasSubstr("differs from"));
  EXPECT_THAT(slurp(here("etc/tent.yaml")), HasSubstr("# mine"));
}

TEST_F(Restores, ToAFolderOfItsOwnItTouchesNothingElseAndSaysHowToStart) {
  live_on();
  const std::string before = slurp(state() / "state");
  const Said said = restore({"--to", here("drill").string()});
  ASSERT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(names_in(here("drill")), ElementsAre("journal.db", "outputs.a", "outputs.b",
                                                   "restored", "settings", "spool", "state"));
  EXPECT_EQ(events(here("drill/journal.db")), 50u);
  EXPECT_THAT(whole(said.out), HasSubstr("--state-dir " + here("drill").string()));
  EXPECT_EQ(slurp(state() / "state"), before);
  EXPECT_EQ(restore({"--to", here("drill").string()}).code, kExitRefused) << "it exists";
}

TEST_F(Restores, WhatIsNoBackupIsSaidToBeNone) {
  backup_ = here("lib");
  EXPECT_THAT(whole(restore().err), HasSubstr("SHA256SUMS"));
  backup_ = here("nowhere");
  EXPECT_THAT(whole(restore().err), HasSubstr("there is no backup"));
}

}  // namespace
}  // namespace neap::client::testing
