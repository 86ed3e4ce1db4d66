// The board's own watchdog, which restarts a kernel that hangs and would leave outputs as they
// were. systemd feeds it (RuntimeWatchdogSec); neapd only looks, at its start, whether it would
// bite.
#pragma once

#include <string>

namespace neap::shell {

// The longest that is safe: a Raspberry Pi's counts to just under 16 s, and wraps what is over it.
constexpr int kLongestBoardWatchdogS = 14;

// What is wrong, with its remedy; empty when one bites in time, or the board has none. `sysfs_root`
// is /sys.
std::string board_watchdog_trouble(const std::string& sysfs_root);

}  // namespace neap::shell
