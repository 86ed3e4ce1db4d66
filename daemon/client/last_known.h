// What the journal knows of a daemon that does not run, in the shape of its `status`.
#pragma once

#include <cstdint>
#include <nlohmann/json.hpp>
#include <string>

#include "daemon/client/look.h"
#include "daemon/journal/reader.h"

namespace neap::client {

// `why`: what kept the daemon from answering. `reader` may be null: then only that is told.
nlohmann::json last_known_status(journal::Reader* reader, const std::string& why);

}  // namespace neap::client
