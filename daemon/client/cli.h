// argv in, exit code out.
#pragma once

#include <string>
#include <vector>

#include "daemon/client/session.h"

namespace neap::client {

// `words`: the command line without the program's name.
int run(const std::vector<std::string>& words, const Surroundings& around);

}  // namespace neap::client
