// Settings: YAML text in, a plan and its hardware out, or every error at once. Nothing is
// half-applied: there is a `Loaded` only when there is no error.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/core/plan.h"
#include "daemon/settings/build.h"
#include "daemon/settings/care.h"
#include "daemon/settings/telling.h"
#include "daemon/solution/mix.h"
#include "drivers/hardware.h"

namespace neap::settings {

// One error a person caused: place, value, rule, remedy.
struct Problem {
  int line = 0;         // 1-based; 0 when the file as a whole is meant
  int column = 0;       // 1-based, in characters
  std::string key;      // path: programme.stages[1].light
  std::string message;  // value and rule: "deadband is 0; must be 0.2 to 5"
  std::string remedy;   // what to write instead; 'did you mean "..."?'
};

struct Loaded {
  Plan plan;
  drivers::Hardware hardware;
  std::optional<Build> build;          // as far as the owner measured it
  std::optional<solution::Feed> feed;  // what the owner feeds
  Care care;
  Turnover turnover;
  PerOutput<std::optional<double>> rated_w;  // what an output's device takes at full level, W
  std::optional<Telling> telling;            // absent: nobody is told
  std::string text;                          // as read
  std::uint64_t hash = 0;                    // FNV-1a of the text
  std::string folder;  // of the file: relative paths in it start there; empty without a file
};

struct LoadResult {
  std::optional<Loaded> loaded;
  std::vector<Problem> problems;  // in order of line and column
};

LoadResult load_text(std::string_view text);
// Reads at most limits::kSettingsBytes + 1 bytes; refuses what is not a regular file.
LoadResult load_file(const std::string& path);
// The same for a daemon that drives real outputs: refuses a file that every user may write, or
// replace in its folder. What a group may do is its owner's affair.
LoadResult load_guarded_file(const std::string& path);

// "file:line:column: message", the line, a caret, the remedy.
std::string render(const std::string& file, std::string_view text, const Problem& problem);

// What a reload would change, one line each, in the words of the settings ("table.soak_limit:
// 20 min -> 15 min"). Empty when nothing would.
std::vector<std::string> difference(const Loaded& before, const Loaded& after);

// May `after` replace `before` while running? Outputs' drivers, addresses and polarity may not
// change under a running daemon: those need a restart.
std::vector<Problem> reload_obstacles(const Loaded& before, const Loaded& after);

// What these settings ask for that only the virtual clock can give: programs in lockstep.
std::vector<Problem> live_obstacles(const Loaded& loaded);

}  // namespace neap::settings
