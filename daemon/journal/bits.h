// Small whole numbers in few bits, one after another: seven bits a byte where few are written, and
// Rice's code (R. F. Rice, JPL 79-22, 1979) where a series is. Private to block.cpp.
#pragma once

#include <bit>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace neap::journal {

// Small magnitudes of either sign become small numbers: 0, -1, 1, -2 ... are 0, 1, 2, 3 ...
constexpr std::uint64_t folded(std::uint64_t difference) {
  return (difference << 1) ^ (0 - (difference >> 63));
}
constexpr std::uint64_t unfolded(std::uint64_t folded) {
  return (folded >> 1) ^ (0 - (folded & 1));
}

constexpr unsigned kWordBits = 64;
constexpr unsigned kRiceMost = 32;       // ones in a row; so many say that 64 plain bits follow
constexpr unsigned kRiceAllZero = 0xff;  // in place of the divisor's bits: no bits follow
constexpr unsigned kRiceWidest = 40;     // bits of the divisor

class BitWriter {
 public:
  explicit BitWriter(std::string& out) : out_(out) {}
  void number(std::uint64_t value) {
    for (; value >= 0x80; value >>= 7) out_ += static_cast<char>(value | 0x80);
    out_ += static_cast<char>(value);
  }
  void series(std::span<const std::uint64_t> values);

 private:
  void bits(std::uint64_t value, unsigned count);
  void rice(std::uint64_t value, unsigned width);

  std::string& out_;
  std::uint64_t pending_ = 0;  // the highest `held_` bits wait for a byte to be full
  unsigned held_ = 0;
};

// Never reads beyond its end: what is not there is 0, and good() is false from then on.
class BitReader {
 public:
  explicit BitReader(std::string_view bytes) : bytes_(bytes) {}
  bool good() const { return good_; }
  bool at_end() const { return at_ == bytes_.size(); }
  std::uint64_t number();
  // Calls take(value) `count` times.
  template <class Take>
  void series(std::size_t count, Take&& take) {
    const unsigned width = byte();
    good_ = good_ && (width == kRiceAllZero || width <= kRiceWidest);
    for (std::size_t i = 0; i < count && good_; ++i) take(width == kRiceAllZero ? 0 : rice(width));
    at_ -= held_ / 8;  // bytes of what comes after; the rest fills up the last byte
    window_ = held_ = 0;
  }

 private:
  unsigned byte();
  void fill();
  std::uint64_t bits(unsigned count);  // up to kRiceWidest
  std::uint64_t rice(unsigned width);

  std::string_view bytes_;
  std::size_t at_ = 0;
  std::uint64_t window_ = 0;  // the next `held_` bits, from the highest on, and zeros
  unsigned held_ = 0;
  bool good_ = true;
};

}  // namespace neap::journal
