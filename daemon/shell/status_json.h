// What the daemon says of itself, in the JSON of schema/control.md.
#pragma once

#include <nlohmann/json.hpp>

#include "daemon/shell/loop.h"

namespace neap::shell {

nlohmann::json because_json(const Because& because);
nlohmann::json status_json(const Daemon& daemon);
nlohmann::json why_json(const Daemon& daemon, Output output);
nlohmann::json alarms_json(const Daemon& daemon, bool all);  // all: shelved and returned ones too
nlohmann::json latches_json(const Daemon& daemon);
nlohmann::json problem_json(const settings::Problem& problem, const std::string& text);

}  // namespace neap::shell
