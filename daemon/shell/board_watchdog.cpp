#include "daemon/shell/board_watchdog.h"

#include <charconv>
#include <filesystem>
#include <optional>

#include "daemon/shell/files.h"
#include "daemon/words/words.h"

namespace neap::shell {
namespace {

constexpr std::size_t kLongestAttribute = 4096;
const std::string kRemedy = "; set RuntimeWatchdogSec=" + std::to_string(kLongestBoardWatchdogS) +
                            " in /etc/systemd/system.conf.d/neap.conf, below [Manager], and "
                            "restart the board";

std::string attribute(const std::filesystem::path& folder, const char* name) {
  std::string text = read_file((folder / name).string(), kLongestAttribute).value_or("");
  while (text.ends_with('\n')) text.pop_back();
  return text;
}

}  // namespace

std::string board_watchdog_trouble(const std::string& sysfs_root) {
  namespace fs = std::filesystem;
  std::string idle;
  std::string slow;
  std::error_code error;
  for (fs::directory_iterator item(sysfs_root + "/class/watchdog", error), end;
       !error && item != end; item.increment(error)) {
    const std::string name = words::printable(attribute(item->path(), "identity"));
    const std::string timeout = attribute(item->path(), "timeout");
    int seconds = 0;
    std::from_chars(timeout.data(), timeout.data() + timeout.size(), seconds);
    if (attribute(item->path(), "state") != "active") {
      idle = "the board's watchdog (" + name +
             ") is fed by nobody: a kernel that hangs would leave "
             "the outputs as they are";
    } else if (seconds <= kLongestBoardWatchdogS) {
      return {};
    } else {
      slow =
          "the board's watchdog (" + name + ") is set to " + std::to_string(seconds) +
          " s, at most " + std::to_string(kLongestBoardWatchdogS) +
          " are safe: the timers of some boards wrap, and outputs stay as they are until it bites";
    }
  }
  const std::string& trouble = slow.empty() ? idle : slow;
  return trouble.empty() ? "" : trouble + kRemedy;
}

}  // namespace neap::shell
