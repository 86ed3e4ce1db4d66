// What an accepted request led to, as its answer tells it (schema/control.md): the target by name,
// and as granted the level, the length and the end.
#pragma once

#include <nlohmann/json.hpp>

#include "daemon/shell/loop.h"

namespace neap::shell {

nlohmann::json granted_flood(const Daemon& daemon, const Request& request);
nlohmann::json granted_hold(const Daemon& daemon, const Request& request);
nlohmann::json granted_release(const Daemon& daemon, const Request& request);
nlohmann::json granted_shelf(const Daemon& daemon, const Request& request);
nlohmann::json granted_reset(const Daemon& daemon, const Request& request);
nlohmann::json granted_service(const Daemon& daemon, const Request& request);
nlohmann::json granted_stage(const Daemon& daemon, const Request& request);
nlohmann::json granted_step_test(const Daemon& daemon, const Request& request);

}  // namespace neap::shell
