// Goal: a backup is whole, proves it, and is never half there, whatever stands in its way. Method:
// the files of a tent with a journal that is being written; sha256sum as the judge of the sums.
#include <atomic>
#include <thread>

#include "daemon/client/sha256.h"
#include "daemon/journal/reader.h"
#include "tests/client/backup_bench.h"

namespace neap::client::testing {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

std::string sha256(std::string_view text) {
  Sha256 sum;
  sum.take(text);
  return sum.digest();
}

// FIPS 180-2, appendix B.1 to B.3, and of no bytes at all (NIST, SHA test vectors).
TEST(Sha256, GivesTheSumsThatNistPublishes) {
  EXPECT_EQ(sha256("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  EXPECT_EQ(sha256(std::string(1'000'000, 'a')),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
  EXPECT_EQ(sha256(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST(Sha256, IsTheSameInWhateverPiecesItComes) {
  const std::string text(300, 'q');
  for (const std::size_t piece : {1u, 3u, 55u, 63u, 64u, 65u, 299u}) {
    Sha256 sum;
    for (std::size_t at = 0; at < text.size(); at += piece)
      sum.take(std::string_view(text).substr(at, piece));
    EXPECT_EQ(sum.digest(), sha256(text)) << piece;
  }
}

TEST_F(Backups, ABackupHasJournalStateAndSettingsAndSumsThatOthersCanCheck) {
  const fs::path made = back_up();
  EXPECT_THAT(names_in(made),
              ElementsAre("SHA256SUMS", "about.json", "journal.db", "settings", "state"));
  EXPECT_THAT(names_in(made / "state"),
              ElementsAre("outputs.a", "outputs.b", "restored", "spool", "state"));
  EXPECT_THAT(names_in(made / "settings"), ElementsAre("other.yaml", "tent.yaml"));
  EXPECT_EQ(slurp(made / "state/state"), slurp(state() / "state"));
  EXPECT_EQ(slurp(made / "settings/tent.yaml"), slurp(here("etc/tent.yaml")));
  const std::string check = "cd " + made.string() + " && sha256sum --quiet --strict -c SHA256SUMS";
  EXPECT_EQ(std::system(check.c_str()), 0);
  const json about = json::parse(slurp(made / "about.json"));
  EXPECT_EQ(about["events"], 50);
  EXPECT_EQ(about["readings"], 50);
  EXPECT_EQ(about["made"], "2026-06-01T12:00:00Z");
  EXPECT_EQ(about["tick"], tick_);
}

TEST_F(Backups, ItSaysWhatItHasAndThatTheSameDiskIsNoSafePlace) {
  const Said said = run({"backup", here("kept").string()});
  EXPECT_THAT(whole(said.out), HasSubstr("50 events, 50 readings, 0 days"));
  EXPECT_THAT(whole(said.out), HasSubstr("read back and found good"));
  EXPECT_THAT(whole(said.out), HasSubstr("on the disk that it would replace"));
  for (const std::string& line : lines_of(said.out)) EXPECT_LE(line.size(), kPageWidth) << line;
}

TEST_F(Backups, OneTakenWhileTheWriterWritesHasAllThatWasThereAndHoldsNothingUp) {
  std::atomic<bool> over{false};
  std::thread busy([&] {
    while (!over) put_events(20);
  });
  const std::int64_t before = tick_;
  for (int i = 0; i < 5; ++i) {
    const Said said = run({"backup", here("kept").string(), "--json"});
    ASSERT_EQ(said.code, kExitDone) << said.err;
    EXPECT_GE(json::parse(said.out)["about"]["tick"], before);
  }
  over = true;
  busy.join();
  EXPECT_FALSE(writer_->trouble()) << writer_->trouble_text();
  EXPECT_EQ(names_in(here("kept")).size(), 5u) << "five in one second have five names";
}

TEST_F(Backups, TheNewestStayByTheirJournalsTickThoughTheClockWentBack) {
  constexpr std::int64_t kDay = 86'400'000;
  const std::string kept = here("kept");
  ASSERT_EQ(run({"backup", kept}, kDay).code, kExitDone);
  put_events(1);
  ASSERT_EQ(run({"backup", kept}, 0).code, kExitDone);
  put_events(1);
  fs::create_directory(here("kept/neap-of-mine"));  // no backup: not touched
  const Said said = run({"backup", kept, "--keep", "2", "--json"}, -kDay);
  ASSERT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(names_in(kept),
              ElementsAre("neap-20260531T120000Z", "neap-20260601T120000Z", "neap-of-mine"));
  EXPECT_THAT(json::parse(said.out)["removed"][0], HasSubstr("neap-20260602T120000Z"));
}

TEST_F(Backups, WithoutKeepNothingGoes) {
  for (int i = 0; i < 3; ++i) ASSERT_EQ(run({"backup", here("kept").string()}).code, kExitDone);
  EXPECT_EQ(names_in(here("kept")).size(), 3u);
  EXPECT_EQ(run({"backup", here("kept").string(), "--keep", "0"}).code, kExitUsage);
}

// Each limit cuts it off at another file: settings, state, journal.
TEST_F(Backups, OnAFullDiskItFailsWithARemedyAndLeavesNothing) {
  fs::create_directory(here("kept"));
  for (const rlim_t most : {10u, 5000u, 100'000u}) {
    const FullDisk disk(most);
    const Said said = run({"backup", here("kept").string()});
    EXPECT_EQ(said.code, kExitFailed) << most;
    EXPECT_THAT(whole(said.err), Not(IsEmpty()));
    EXPECT_THAT(names_in(here("kept")), IsEmpty()) << most;
  }
}

TEST_F(Backups, WhatACutBackupLeftIsSweptByTheNext) {
  fs::create_directories(here("kept/.neap-20260530T033000Z.77.new/state"));
  back_up();
  EXPECT_THAT(names_in(here("kept")), ElementsAre("neap-20260601T120000Z"));
}

TEST_F(Backups, TwoIntoOneFolderAreNotUnderWayAtOnce) {
  fs::create_directory(here("kept"));
  const int other = ::open(here("kept").c_str(), O_RDONLY | O_DIRECTORY);
  ASSERT_EQ(::flock(other, LOCK_EX), 0);
  const Said said = run({"backup", here("kept").string()});
  EXPECT_EQ(said.code, kExitRefused);
  EXPECT_THAT(whole(said.err), HasSubstr("is under way"));
  ::close(other);
}

TEST_F(Backups, AStateWithOneTornSlotIsTakenAndOneWithNoneIsRefused) {
  std::string bytes = slurp(state() / "state");
  bytes[50] = static_cast<char>(bytes[50] ^ 4);
  write("lib/state", bytes);
  ASSERT_EQ(run({"backup", here("kept").string()}).code, kExitDone);
  bytes[kStateSlotBytes + 40] = static_cast<char>(bytes[kStateSlotBytes + 40] ^ 4);
  write("lib/state", bytes);
  const Said said = run({"backup", here("kept").string()});
  EXPECT_EQ(said.code, kExitFailed);
  EXPECT_THAT(whole(said.err), HasSubstr("has no whole slot"));
  EXPECT_EQ(names_in(here("kept")).size(), 1u);
}

TEST_F(Backups, WhereNothingRanOrAFileIsMissingThePlaceAndTheRemedyAreNamed) {
  const auto failing = [&](const std::string& journal, const std::string& settings, ExitCode code,
                           const std::string& text) {
    const Said said =
        neap({"backup", here("kept").string(), "--state-dir", state().string(), "--journal",
              here(journal).string(), "--settings", here(settings).string()});
    EXPECT_EQ(said.code, code) << said.err;
    EXPECT_THAT(whole(said.err), HasSubstr(text));
  };
  write("file", "");
  failing("none.db", "etc/tent.yaml", kExitNoJournal, "there is no journal");
  failing("lib/journal.db", "none.yaml", kExitFailed, "cannot read");
  EXPECT_EQ(run({"backup", here("file").string()}).code, kExitFailed);
  EXPECT_EQ(run({"backup", here("no/where").string()}).code, kExitFailed);
  EXPECT_EQ(run({"backup", "a", "b"}).code, kExitUsage);
  fs::remove(state() / "state");
  const Said said = run({"backup", here("kept").string()});
  EXPECT_EQ(said.code, kExitDone) << said.err;
  EXPECT_THAT(whole(said.out), HasSubstr("there is no state file yet"));
}

}  // namespace
}  // namespace neap::client::testing
