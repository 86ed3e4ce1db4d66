// Chance by seed, channel and count, so that one draw more in one channel shifts no other.
#pragma once

#include <cstdint>
#include <string_view>

namespace neap::campaign {

class Draw {
 public:
  Draw(std::uint64_t seed, std::string_view channel) : key_(mixed(seed)) {
    for (const char c : channel) key_ = mixed(key_ ^ static_cast<unsigned char>(c));
  }
  double between(double low, double high) { return low + (high - low) * unit(); }
  // 0 .. n-1
  int below(int n) { return static_cast<int>(unit() * n); }
  bool chance(double part) { return unit() < part; }

 private:
  // SplitMix64's finisher (Steele, Lea, Flood 2014).
  static std::uint64_t mixed(std::uint64_t z) {
    z += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
  }
  double unit() { return static_cast<double>(mixed(key_ ^ ++count_) >> 11) * 0x1.0p-53; }

  std::uint64_t key_;
  std::uint64_t count_ = 0;
};

}  // namespace neap::campaign
