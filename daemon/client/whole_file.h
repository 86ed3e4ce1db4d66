// A file that is there whole or not at all.
#pragma once

#include <sys/types.h>

#include <optional>
#include <string>
#include <string_view>

namespace neap::client {

// Writes a hidden file beside `path`, durable, and renames it into place, over what was there.
// Empty when done; else what failed, in the system's words, and nothing is left behind.
std::string write_whole_file(const std::string& path, std::string_view text, mode_t mode);

// A regular file, not through a link, of at most `most` bytes. None, and why in `trouble`.
std::optional<std::string> read_whole_file(const std::string& path, std::size_t most,
                                           std::string& trouble);

}  // namespace neap::client
