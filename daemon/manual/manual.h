// The manual and the completion, made from what --help, config/reference.yaml, `neap explain` and
// the programs themselves are made of. Nothing here says again what a table says.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace neap::manual {

std::string client_page();    // neap(1)
std::string daemon_page();    // neapd(8)
std::string settings_page();  // neap-settings(5)
std::string explain_page();   // neap-explain(7)
// bash: verbs, options and the words of a verb. Needs no bash-completion to be sourced.
std::string bash_completion();

// What is made, by the name of its file.
struct Made {
  std::string_view file;
  std::string (*make)();
};
std::span<const Made> all_made();

}  // namespace neap::manual
