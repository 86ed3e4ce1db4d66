// The settings of a drawn world, as a user could have written them.
#pragma once

#include <cstdint>
#include <string>

namespace neap::campaign {

// `plan`: the channel that draws the grow plan; a world has two of them on the same hardware.
// `calm`: with a reservoir that lasts a week.
std::string settings_text(std::uint64_t seed, const char* plan, bool calm);

}  // namespace neap::campaign
