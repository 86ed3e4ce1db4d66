// CRC-32C (Castagnoli polynomial 0x1EDC6F41, reflected). Check value of "123456789": 0xE3069283
// (RFC 3720, appendix B.4).
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

namespace neap {

inline constexpr std::array<std::uint32_t, 256> kCrc32cTable = [] {
  std::array<std::uint32_t, 256> table{};
  for (std::uint32_t i = 0; i < 256; ++i) {
    std::uint32_t value = i;
    for (int bit = 0; bit < 8; ++bit)
      value = (value & 1) != 0 ? 0x82F63B78u ^ (value >> 1) : value >> 1;
    table[i] = value;
  }
  return table;
}();

// `before` is what the bytes before these gave, or 0.
constexpr std::uint32_t crc32c(std::string_view bytes, std::uint32_t before = 0) {
  std::uint32_t crc = before ^ 0xFFFFFFFFu;
  for (const char c : bytes)
    crc = kCrc32cTable[(crc ^ static_cast<unsigned char>(c)) & 0xFF] ^ (crc >> 8);
  return crc ^ 0xFFFFFFFFu;
}

}  // namespace neap
