// The command line of neap as the parser knows it, for run(), help, manual and completion.
#pragma once

#include <CLI/CLI.hpp>
#include <array>
#include <string>
#include <string_view>

#include "daemon/client/session.h"
#include "daemon/client/verbs.h"

namespace neap::client {

struct VariableRow {
  std::string_view name;
  std::string_view meaning;
};
inline constexpr std::array kVariables{
    VariableRow{"NEAP_SOCKET", "in place of --socket's default"},
    VariableRow{"NEAP_JOURNAL", "in place of --journal's default"},
    VariableRow{"NEAP_SETTINGS", "in place of --settings' default"},
    VariableRow{"NEAP_STATE_DIR", "in place of --state-dir's default"},
    VariableRow{"NEAP_TELL_DIR", "in place of --tell-dir's default"},
    VariableRow{"NEAPD", "the daemon that `neap simulate` runs"},
    VariableRow{"NO_COLOR", "forbids colour, when it is not empty"},
};

// The parser and what it fills. It keeps pointers into itself.
struct CommandLine {
  CLI::App app;
  Globals globals;
  Arguments args;
  const Verb* chosen = nullptr;
  CommandLine() = default;
  CommandLine(const CommandLine&) = delete;
  CommandLine& operator=(const CommandLine&) = delete;
};
// Declares every verb and option; the defaults that help shows are those of `line.globals`.
void declare(CommandLine& line);
// The words of a verb as they are typed: "OUTPUT LEVEL [for LENGTH]", in brackets when they may be
// left out.
std::string as_typed(const CLI::Option& words);

}  // namespace neap::client
