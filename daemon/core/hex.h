// Numbers as hexadecimal digits, the way files of ours write counters, hashes and checksums.
#pragma once

#include <charconv>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace neap {

// The lowest `digits` digits, small letters, zeros before them.
inline std::string hex(std::uint64_t value, int digits) {
  constexpr std::string_view kDigits = "0123456789abcdef";
  std::string out(static_cast<std::size_t>(digits), '0');
  for (auto place = out.rbegin(); place != out.rend(); ++place, value >>= 4)
    *place = kDigits[value & 15];
  return out;
}

// None unless all of it is digits that fit 64 bits.
inline std::optional<std::uint64_t> parse_hex(std::string_view text) {
  std::uint64_t value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value, 16);
  if (error != std::errc{} || end != text.data() + text.size() || text.empty()) return std::nullopt;
  return value;
}

}  // namespace neap
