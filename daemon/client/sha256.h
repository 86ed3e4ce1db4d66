// SHA-256 (FIPS 180-4), so that a backup can be checked by `sha256sum -c` on any machine.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>

namespace neap::client {

class Sha256 {
 public:
  void take(std::string_view bytes);
  // Of all that was taken, as 64 small hexadecimal digits. Ends it.
  std::string digest();

 private:
  static constexpr std::size_t kBlock = 64;
  void mix(const unsigned char* block);

  std::array<std::uint32_t, 8> hash_{0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
                                     0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19};
  std::array<unsigned char, kBlock> waiting_{};
  std::size_t waits_ = 0;  // bytes of `waiting_`
  std::uint64_t bytes_ = 0;
};

}  // namespace neap::client
