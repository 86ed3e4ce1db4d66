// Sectors of the saved state go bad while the board is off.
#pragma once

#include <string>

namespace neap::campaign {

// Of both slots of the state file at `path`, or of the first alone, which loses nothing.
void rot(const std::string& path, bool both);

}  // namespace neap::campaign
