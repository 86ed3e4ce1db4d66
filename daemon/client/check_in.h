// The numbers of the day, asked for one by one; and work at the tent that ends with them.
#pragma once

#include <optional>
#include <string>

#include "daemon/client/session.h"

namespace neap::client {

// Declares a service, waits until the work is done, asks for what went in and what is there now,
// hands it in, and ends the service. `job`: topup, change, plants or clean.
int work_at_tent(Session& session, const std::string& job, std::optional<Millis> lasts);

}  // namespace neap::client
