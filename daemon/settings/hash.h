// FNV-1a, 64 bit, with the authors' constants (Fowler, Noll, Vo).
#pragma once

#include <cstdint>
#include <string_view>

namespace neap::settings {

constexpr std::uint64_t fnv1a(std::string_view text) {
  std::uint64_t hash = 14695981039346656037ULL;
  for (const char c : text) {
    hash ^= static_cast<unsigned char>(c);
    hash *= 1099511628211ULL;
  }
  return hash;
}

}  // namespace neap::settings
