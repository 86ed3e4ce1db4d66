// What the journal complains of reaches the log, once, and control goes on.
#include <gtest/gtest.h>
#include <sqlite3.h>

#include <algorithm>

#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

// Another program that holds the journal.
class Holder {
 public:
  explicit Holder(const std::string& path) { sqlite3_open(path.c_str(), &db_); }
  ~Holder() { sqlite3_close(db_); }
  Holder(const Holder&) = delete;
  Holder& operator=(const Holder&) = delete;
  bool run(const char* sql) {
    return sqlite3_exec(db_, sql, nullptr, nullptr, nullptr) == SQLITE_OK;
  }

 private:
  sqlite3* db_ = nullptr;
};

TEST(JournalTrouble, ALockedJournalIsLoggedWhenItBeginsAndWhenItIsOver) {
  SimulatedRun run(demo_that_floods());
  ASSERT_TRUE(run.started());
  const auto logged = [&run](const std::string& piece) {
    const auto& lines = run.log().lines;
    return std::count_if(lines.begin(), lines.end(), [&](const std::string& line) {
      return line.find(piece) != std::string::npos;
    });
  };
  run.run_for(seconds{10});
  run.daemon().journal().flush();
  Holder other(run.dir() / "journal");
  ASSERT_TRUE(other.run("BEGIN EXCLUSIVE"));
  for (int i = 0; i < 2; ++i) {
    run.run_for(seconds{20});
    run.daemon().journal().flush();
  }
  const std::uint64_t scans = run.daemon().scans();
  run.run_for(minutes{1});
  EXPECT_EQ(logged("close the other program"), 1);
  EXPECT_GT(run.daemon().scans(), scans);
  EXPECT_EQ(logged("the journal is well again"), 0);

  ASSERT_TRUE(other.run("COMMIT"));
  run.daemon().journal().flush();
  run.run_for(seconds{20});
  EXPECT_EQ(logged("the journal is well again"), 1);
}

}  // namespace
}  // namespace neap::shell
