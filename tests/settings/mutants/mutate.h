// Ways to ruin a settings text, drawn by seed: what an editor, a tired person, a bad copy or an
// enemy makes of a good file.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace neap::settings {

// splitmix64 (Steele, Lea, Flood 2014): small, and the same everywhere.
class Random {
 public:
  Random(std::uint64_t seed, std::uint64_t number) : state_(seed) {
    state_ = next() ^ (number * 0x9E3779B97F4A7C15ULL);
  }
  // 0 .. bound-1; bound is at least 1.
  std::size_t below(std::size_t bound) { return static_cast<std::size_t>(next() % bound); }
  template <class List>
  const auto& one_of(const List& list) {
    return list[below(std::size(list))];
  }

 private:
  std::uint64_t next() {
    std::uint64_t z = (state_ += 0x9E3779B97F4A7C15ULL);
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
    return z ^ (z >> 31U);
  }
  std::uint64_t state_;
};

struct Mutation {
  std::string_view name;
  void (*apply)(std::string& text, std::span<const std::string> files, Random& random);
};
std::span<const Mutation> mutations();

struct Mutant {
  std::size_t file = 0;  // which of the files it was made of
  std::size_t kind = 0;  // which of mutations()
  std::string text;
};

// The mutant with this number of this seed: always the same one.
Mutant make_mutant(std::span<const std::string> files, std::uint64_t seed, std::uint64_t number);

}  // namespace neap::settings
