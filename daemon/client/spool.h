// Hand measurements on their way to the daemon.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "daemon/client/measures.h"
#include "daemon/client/session.h"

namespace neap::client {

// Writes what verb `measure` or `amend` takes to STATE_DIR/spool/SPOOL_ID.json, durable and renamed
// into place, so that the daemon never sees half of it. The path; a Failure when it cannot be done.
std::string spool_measurement(const std::string& state_dir, const nlohmann::json& measurement);

// To the daemon, or into its spool while it is down. True when the daemon has it; `result` is its
// answer, or where it waits.
bool hand_in_measured(const Session& session, const Measured& measured, const std::string& note,
                      nlohmann::json& result);

}  // namespace neap::client
