// Exit codes of neap, and how a verb gives up: by throwing a Failure with what was wrong and what
// to do about it. run() prints it, as text or as JSON, and returns its code.
#pragma once

#include <array>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>

namespace neap::client {

enum ExitCode : int {
  kExitDone = 0,
  kExitRefused = 1,
  kExitUsage = 2,
  kExitNoDaemon = 3,
  kExitNoJournal = 4,
  kExitFailed = 5,
};

struct ExitCodeRow {
  ExitCode code;
  std::string_view meaning;
};
inline constexpr std::array kExitCodes{
    ExitCodeRow{kExitDone, "done"},
    ExitCodeRow{kExitRefused, "refused, or problems were found"},
    ExitCodeRow{kExitUsage, "the command line is wrong; nothing was done"},
    ExitCodeRow{kExitNoDaemon, "no daemon answers"},
    ExitCodeRow{kExitNoJournal, "no journal to read"},
    ExitCodeRow{kExitFailed, "a file, a program or the system failed"},
};

class Failure : public std::runtime_error {
 public:
  // `what` says place, value and rule; `remedy` what to write or do instead, and may be empty.
  Failure(ExitCode code, const std::string& what, std::string remedy,
          nlohmann::json more = nlohmann::json::object())
      : std::runtime_error(what), code_(code), remedy_(std::move(remedy)), more_(std::move(more)) {}

  ExitCode code() const { return code_; }
  const std::string& remedy() const { return remedy_; }
  const nlohmann::json& more() const { return more_; }  // fields of the daemon's error object

 private:
  ExitCode code_;
  std::string remedy_;
  nlohmann::json more_;
};

}  // namespace neap::client
