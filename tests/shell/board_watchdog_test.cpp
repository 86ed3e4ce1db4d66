#include "daemon/shell/board_watchdog.h"

#include <gmock/gmock.h>

#include <filesystem>
#include <fstream>

#include "tests/shell/support.h"

namespace neap::shell {
namespace {

using testing::AllOf;
using testing::HasSubstr;

// Attributes as Documentation/ABI/testing/sysfs-class-watchdog of the kernel has them.
class BoardWatchdog : public testing::Test {
 protected:
  void have(const std::string& name, const std::string& state, const std::string& timeout) {
    const std::filesystem::path folder = root_ / ("class/watchdog/" + name);
    std::filesystem::create_directories(folder);
    std::ofstream(folder / "identity") << "Broadcom BCM2835 Watchdog timer\n";
    std::ofstream(folder / "state") << state << "\n";
    std::ofstream(folder / "timeout") << timeout << "\n";
  }
  std::string trouble() const { return board_watchdog_trouble(root_ / ""); }
  TempDir root_;  // of its own: tests run beside each other
};

TEST_F(BoardWatchdog, OneThatBitesInTimeOrNoneIsNothingToTell) {
  EXPECT_EQ(trouble(), "");
  have("watchdog0", "active", "14");
  EXPECT_EQ(trouble(), "");
}

TEST_F(BoardWatchdog, OneThatWouldWrapIsToldOfWithItsRemedy) {
  have("watchdog0", "active", "60");
  EXPECT_THAT(trouble(), AllOf(HasSubstr("(Broadcom BCM2835 Watchdog timer) is set to 60 s"),
                               HasSubstr("at most 14"), HasSubstr("set RuntimeWatchdogSec=14")));
  have("watchdog0", "active", "15");
  EXPECT_THAT(trouble(), HasSubstr("set to 15 s"));
}

TEST_F(BoardWatchdog, OneThatNobodyFeedsIsToldOf) {
  have("watchdog0", "inactive", "10");
  EXPECT_THAT(trouble(), AllOf(HasSubstr("fed by nobody"), HasSubstr("set RuntimeWatchdogSec=14")));
}

TEST_F(BoardWatchdog, OneOfSeveralIsEnough) {
  have("watchdog0", "inactive", "10");
  have("watchdog1", "active", "10");
  EXPECT_EQ(trouble(), "");
}

}  // namespace
}  // namespace neap::shell
