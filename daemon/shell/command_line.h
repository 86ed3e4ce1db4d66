// The command line of neapd as the parser knows it, for main(), --help and the manual.
#pragma once

#include <CLI/CLI.hpp>
#include <string>

#include "daemon/shell/options.h"

namespace neap::shell {

// The parser and what it fills. It keeps pointers into itself.
struct CommandLine {
  CLI::App app;
  Options options;
  std::string until = "24h";
  std::string step = "next";
  bool quiet = false;
  CommandLine() = default;
  CommandLine(const CommandLine&) = delete;
  CommandLine& operator=(const CommandLine&) = delete;
};
void declare(CommandLine& line);

}  // namespace neap::shell
