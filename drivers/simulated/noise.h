// Noise without memory: a hash of (seed, channel, index). Any sample can be asked for at any time
// and in any order, so how often a reader looks never changes what it sees.
#pragma once

#include <cmath>
#include <cstdint>
#include <numbers>

namespace neap::drivers::simulated {

// The finaliser of SplitMix64 (Steele, Lea, Flood 2014, "Fast splittable pseudorandom number
// generators", figure 19).
constexpr std::uint64_t mixed(std::uint64_t z) {
  z += 0x9e3779b97f4a7c15U;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9U;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebU;
  return z ^ (z >> 31);
}

constexpr std::uint64_t hashed(std::uint64_t seed, std::uint64_t channel, std::int64_t index) {
  return mixed(mixed(mixed(seed) ^ channel) ^ static_cast<std::uint64_t>(index));
}

// Uniform in [0, 1).
constexpr double uniform(std::uint64_t seed, std::uint64_t channel, std::int64_t index) {
  return static_cast<double>(hashed(seed, channel, index) >> 11) * 0x1.0p-53;
}

// Standard normal, by Box and Muller (1958).
inline double gaussian(std::uint64_t seed, std::uint64_t channel, std::int64_t index) {
  const double u = 1.0 - uniform(seed, channel * 2, index);
  const double v = uniform(seed, channel * 2 + 1, index);
  return std::sqrt(-2.0 * std::log(u)) * std::cos(2.0 * std::numbers::pi * v);
}

// A slow random curve of unit variance at its knots: normal values at every multiple of `knot_s`,
// joined by a smooth step. It wanders like an Ornstein-Uhlenbeck process of that time scale, but
// can be read at any time.
inline double wander(std::uint64_t seed, std::uint64_t channel, double at_s, double knot_s) {
  const double place = at_s / knot_s;
  const double left = std::floor(place);
  const double part = place - left;
  const auto index = static_cast<std::int64_t>(left);
  const double smooth = part * part * (3.0 - 2.0 * part);
  return gaussian(seed, channel, index) * (1.0 - smooth) +
         gaussian(seed, channel, index + 1) * smooth;
}

}  // namespace neap::drivers::simulated
