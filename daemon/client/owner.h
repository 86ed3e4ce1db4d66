// Files that root makes for another user.
#pragma once

#include <filesystem>

namespace neap::client {

// Run by root: gives `path`, and all that is below it, to whom `like` belongs. Else nothing.
void own_like(const std::filesystem::path& path, const std::filesystem::path& like);

}  // namespace neap::client
