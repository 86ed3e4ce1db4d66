// The two ways to run a daemon: on a clock that jumps, and live. Both return an exit code
// (options.h).
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "daemon/settings/settings.h"
#include "daemon/shell/log.h"
#include "daemon/shell/options.h"
#include "drivers/driver.h"

namespace neap::shell {

// A simulated grow: no socket; one JSON line with the trace hash on stdout at the end.
// `interrupted` is asked now and then; true ends the run early, with exit code kExitDone.
int run_virtual(const Options& options, const LogSink& log,
                const std::function<bool()>& interrupted);
int run_live(const Options& options, const LogSink& log);

// Logs every problem of a settings file as `neap check` prints it.
void log_problems(const LogSink& log, const std::string& path, const std::string& text,
                  const std::vector<settings::Problem>& problems);

// The simulated tent that the settings describe, or nullptr: with an error text when it cannot be
// made, without when there is none. It starts with the tick at `start`. A relative path of weather
// starts in the folder of the settings file.
std::unique_ptr<drivers::World> make_world(const settings::Loaded& loaded, Instant start,
                                           std::int64_t start_unix_ms, std::string& error);

}  // namespace neap::shell
