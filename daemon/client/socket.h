// One question to the daemon over its control socket.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <string_view>

#include "daemon/core/instant.h"

namespace neap::client {

constexpr Millis kAnswerWithin = seconds{10};

// The `result` of the answer. Throws a Failure: no daemon (nothing listens, or it went away),
// refused (the daemon said no; `more()` is its error object), failed (no sense in the answer, or
// none within `patience`).
nlohmann::json ask_daemon(const std::string& socket_path, std::string_view verb,
                          const nlohmann::json& args, Millis patience = kAnswerWithin);

}  // namespace neap::client
