// Exit codes of neapd in words: its --help, its manual page and `neap explain` show them.
#pragma once

#include <array>
#include <string_view>

#include "daemon/words/explain.h"

namespace neap::words {

struct DaemonExit {
  int code;
  std::string_view meaning;
  Explanation says;
};

inline constexpr std::array kDaemonExits{
    DaemonExit{
        0,
        "stopped when asked to, or the simulated span is over",
        {"Outputs were left at their safe levels.",
         "SIGTERM of a supervisor or a shutdown; a simulation that ran to its end", "nothing"}},
    DaemonExit{
        1,
        "an error of its own; the log says which",
        {"neapd gave up. What it drove goes safe by its lease, and by neap-outputs-safe where "
         "a supervisor runs that afterwards.",
         "a fault of the program; memory or a disk that fails",
         "read the last lines of its log; start it again; report it with the journal"}},
    DaemonExit{2,
               "the command line is wrong",
               {"Nothing was started.", "a misspelt option; a path left out",
                "`neapd --help`; see the unit or script that starts it"}},
    DaemonExit{3,
               "settings were refused and there are none to fall back on",
               {"Outputs are safe and nothing is controlled.",
                "an edit of the settings that was never checked; another version of neap",
                "`neap check` shows every problem at its place; mend them and start neapd again"}},
    DaemonExit{
        4,
        "state directory, socket or clock is not usable",
        {"Outputs are safe and nothing is controlled.",
         "a second neapd runs; the directory is missing or belongs to another user; the disk is "
         "full",
         "read its log; see who owns the directories of --state-dir, --journal and --socket"}},
};

}  // namespace neap::words
