// Hand measurements of a simulated grow: told to the daemon at their times, as over the socket.
#pragma once

#include <string>

#include "daemon/shell/loop.h"
#include "daemon/shell/timers.h"

namespace neap::shell {

// Arms a timer for each entry of the file, a JSON list of {at: local time, args: of verb
// `measure`}, that lies after `start`, which is `start_unix_ms` of wall time. Empty, or what is
// wrong with the file.
std::string arm_hands(const std::string& path, Daemon& daemon, TimerQueue& timers, Instant start,
                      std::int64_t start_unix_ms, const LogSink& log);

}  // namespace neap::shell
