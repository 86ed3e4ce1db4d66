// What the command line of neapd asks for, and the exit codes.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "daemon/core/instant.h"

namespace neap::shell {

enum ExitCode : int {
  kExitDone = 0,         // stopped when asked to, or the simulated span is over
  kExitFailure = 1,      // an error of ours; the log says which
  kExitUsage = 2,        // command line
  kExitSettings = 3,     // settings refused and none to fall back on; outputs are safe
  kExitCannotStart = 4,  // state directory, socket or clock not usable; outputs are safe
};

struct Options {
  std::string settings;
  std::string state_dir;
  std::string journal;
  std::optional<int> keep_readings_days;  // none: for ever
  std::string socket;
  std::string log_level = "info";
  bool virtual_clock = false;
  Millis until{};                         // virtual: length of the run
  std::string relative_to;                // virtual: where relative paths in the settings start
  std::string from = "2026-06-01T00:00";  // virtual: local civil time of its start
  std::string hands;                      // virtual: file of hand measurements and their times
  bool every_second = false;  // virtual: scan each second instead of when something is due
  bool confirm_stages = false;
  bool progress = false;
  bool trace_hash_only = false;
};

}  // namespace neap::shell
