// Hand measurements that wait for the daemon.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace neap::client {

// Writes `{"spool_id", "taken_unix_ms", "values", "note"}` to STATE_DIR/spool/SPOOL_ID.json,
// durable and renamed into place, so that the daemon never sees half of it. The path; a Failure
// when it cannot be done.
std::string spool_measurement(const std::string& state_dir, const nlohmann::json& measurement);

}  // namespace neap::client
