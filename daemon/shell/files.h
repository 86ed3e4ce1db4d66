// Small files that must survive a power cut: a read that cannot be fooled by size, and a write that
// leaves either the old text or the new one.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/core/hex.h"

namespace neap::shell {

// FNV-1a, 64 bit, the hash of settings texts and traces.
std::uint64_t fnv1a(std::string_view bytes, std::uint64_t seed = 0xcbf29ce484222325ULL);

enum class Links : unsigned char { follow, refuse };
// The whole file, or none when it cannot be read, is no regular file or is longer than `most`.
// Files that others may have put there are read with Links::refuse.
std::optional<std::string> read_file(const std::string& path, std::size_t most,
                                     Links links = Links::follow);

// Makes the file's name durable: a sync of the file itself promises only its content. An error
// text, or empty.
std::string sync_folder_of(const std::string& path);

// Writes beside the file, syncs, renames over it and syncs the directory. An error text, or empty.
// `mode` is the file's permission bits.
std::string write_file_atomically(const std::string& path, std::string_view text, unsigned mode);

}  // namespace neap::shell
