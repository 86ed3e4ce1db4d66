// What a person tells on its way in, from the socket and from the spool alike: hand measurements,
// checked, put into the journal and told to the core; and the diary, which the core never hears of.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "daemon/shell/loop.h"

namespace neap::shell {

struct TakenIn {
  std::string error;  // empty when all was taken
  std::size_t stored = 0;
};

// `args` as of verb `measure` in schema/control.md. `fallback_id` names the set when it has no
// spool_id.
TakenIn take_in_measurements(Daemon& daemon, const nlohmann::json& args,
                             const std::string& fallback_id);
// `args` as of verb `amend`.
TakenIn take_in_amendment(Daemon& daemon, const nlohmann::json& args,
                          const std::string& fallback_id);
// `args` as of verb `diary`.
TakenIn take_in_diary(Daemon& daemon, const nlohmann::json& args, const std::string& fallback_id);

}  // namespace neap::shell
