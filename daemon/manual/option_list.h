// The options of a command line, as both pages of programs list them.
#pragma once

#include <CLI/CLI.hpp>
#include <vector>

#include "daemon/manual/mdoc.h"

namespace neap::manual {

std::vector<const CLI::Option*> words_of(const CLI::App& app);    // typed by their place
std::vector<const CLI::Option*> options_of(const CLI::App& app);  // but for --help
bool takes_value(const CLI::Option& option);
std::string dashed(const CLI::Option& option);  // "--since"
void put_options(Page& page, const CLI::App& app);

}  // namespace neap::manual
