#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "daemon/shell/boot.h"
#include "tests/shell/support.h"

namespace neap::shell {
namespace {

TEST(StateDir, AFirstRunMakesItAndSaysSoAsAWarningWithItsPath) {
  const TempDir dir;
  std::vector<std::pair<LogLevel, std::string>> lines;
  const LogSink log = [&](LogLevel level, const std::string& text) {
    lines.emplace_back(level, text);
  };
  EXPECT_EQ(make_state_dir(dir / "state/", log), "");
  EXPECT_TRUE(std::filesystem::is_directory(dir / "state/spool"));
  ASSERT_EQ(lines.size(), 1u);
  EXPECT_EQ(lines[0].first, LogLevel::warning);
  EXPECT_NE(lines[0].second.find(dir / "state is new: a first run"), std::string::npos);
  EXPECT_EQ(make_state_dir(dir / "state", log), "");
  EXPECT_EQ(lines.size(), 1u) << "the second run is no news";
}

TEST(StateDir, AMissingParentIsRefusedWithARemedyAndNothingIsMade) {
  const TempDir dir;
  KeptLog log;
  const std::string error = make_state_dir(dir / "lbi/neap", log.sink());
  EXPECT_EQ(error, dir / "lbi/neap is not there, nor is " + (dir / "lbi") +
                       "; make the latter, or correct --state-dir");
  EXPECT_FALSE(std::filesystem::exists(dir / "lbi"));
}

TEST(StateDir, AFileInItsPlaceIsRefused) {
  const TempDir dir;
  KeptLog log;
  std::ofstream(dir / "state") << "x";
  EXPECT_NE(make_state_dir(dir / "state", log.sink()), "");
}

}  // namespace
}  // namespace neap::shell
