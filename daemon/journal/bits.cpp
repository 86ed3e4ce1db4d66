#include "daemon/journal/bits.h"

#include <algorithm>

namespace neap::journal {
namespace {

// Bits that the series takes with a divisor of 2^width.
std::uint64_t cost(std::span<const std::uint64_t> values, unsigned width) {
  std::uint64_t sum = 0;
  for (const std::uint64_t value : values) {
    const std::uint64_t quotient = value >> width;
    sum += quotient < kRiceMost ? quotient + 1 + width : kRiceMost + kWordBits;
  }
  return sum;
}

unsigned cheapest(std::span<const std::uint64_t> values) {
  if (std::ranges::all_of(values, [](std::uint64_t value) { return value == 0; }))
    return kRiceAllZero;
  unsigned best = 0;
  std::uint64_t least = cost(values, 0);
  for (unsigned width = 1; width <= kRiceWidest; ++width)
    if (const std::uint64_t bits = cost(values, width); bits < least) {
      least = bits;
      best = width;
    } else if (width > best + 2) {
      break;  // beyond its least the cost only grows, but for a few numbers far out
    }
  return best;
}

}  // namespace

void BitWriter::bits(std::uint64_t value, unsigned count) {
  for (unsigned left = count; left > 0;) {
    const unsigned now = std::min(left, 8 - held_);
    const auto piece = static_cast<unsigned>(value >> (left - now)) & ((1U << now) - 1);
    pending_ = pending_ << now | piece;
    held_ += now;
    left -= now;
    if (held_ < 8) continue;
    out_ += static_cast<char>(pending_);
    pending_ = held_ = 0;
  }
}

void BitWriter::rice(std::uint64_t value, unsigned width) {
  const std::uint64_t quotient = value >> width;
  if (quotient >= kRiceMost) {
    bits(~std::uint64_t{0}, kRiceMost);
    return bits(value, kWordBits);
  }
  bits(~std::uint64_t{0} << 1, static_cast<unsigned>(quotient) + 1);
  bits(value, width);
}

void BitWriter::series(std::span<const std::uint64_t> values) {
  const unsigned width = cheapest(values);
  out_ += static_cast<char>(width);
  if (width == kRiceAllZero) return;
  for (const std::uint64_t value : values) rice(value, width);
  if (held_ > 0) bits(0, 8 - held_);
}

unsigned BitReader::byte() {
  if (at_ == bytes_.size()) {
    good_ = false;
    return 0;
  }
  return static_cast<unsigned char>(bytes_[at_++]);
}

std::uint64_t BitReader::number() {
  std::uint64_t value = 0;
  for (unsigned shift = 0; shift < kWordBits; shift += 7) {
    const unsigned next = byte();
    value |= std::uint64_t{next & 0x7f} << shift;
    if (next < 0x80) return value;
  }
  good_ = false;
  return 0;
}

void BitReader::fill() {
  for (; held_ <= kWordBits - 8 && at_ < bytes_.size(); held_ += 8)
    window_ |= std::uint64_t{byte()} << (kWordBits - 8 - held_);
}

std::uint64_t BitReader::bits(unsigned count) {
  if (count == 0) return 0;
  fill();
  good_ = good_ && held_ >= count;
  if (!good_) return 0;
  const std::uint64_t value = window_ >> (kWordBits - count);
  window_ <<= count;
  held_ -= count;
  return value;
}

std::uint64_t BitReader::rice(unsigned width) {
  fill();
  const auto ones = static_cast<unsigned>(std::countl_one(window_));
  if (ones < kRiceMost) {
    bits(ones + 1);
    return std::uint64_t{ones} << width | bits(width);
  }
  bits(kRiceMost);
  const std::uint64_t high = bits(kWordBits / 2);
  return high << (kWordBits / 2) | bits(kWordBits / 2);
}

}  // namespace neap::journal
