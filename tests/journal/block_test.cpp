// Goal: what is packed comes back bit for bit, whatever it is; what is not what was packed is told
// and never believed. Method: series of many kinds drawn by seed, and blobs ruined by seed.
#include "daemon/journal/block.h"

#include <gtest/gtest.h>

#include <limits>
#include <random>

#include "daemon/core/crc32c.h"

namespace neap::journal {
namespace {

using Readings = std::vector<PackedReading>;

bool same(const PackedReading& a, const PackedReading& b) {
  return a.k == b.k && a.v == b.v && a.q == b.q;
}
bool same(const Readings& a, const Readings& b) {
  return std::ranges::equal(a, b, [](const auto& x, const auto& y) { return same(x, y); });
}
std::int64_t key_of_block(const Readings& readings) {
  return block_key(hour_of(tick_of_key(readings.front().k)),
                   static_cast<std::int64_t>(point_of_key(readings.front().k)));
}
std::string resealed(std::int64_t key, std::string bytes) {
  std::string text;
  for (unsigned i = 0; i < 8; ++i)
    text += static_cast<char>(static_cast<std::uint64_t>(key) >> (8 * i));
  const std::uint32_t sum = crc32c(bytes, crc32c(text));
  for (unsigned i = 0; i < 4; ++i) bytes += static_cast<char>(sum >> (8 * i));
  return bytes;
}

class Draw {
 public:
  explicit Draw(unsigned seed) : random_(seed) {}
  std::uint64_t below(std::uint64_t end) { return random_() % end; }
  bool chance(double p) { return static_cast<double>(random_() >> 11) * 0x1p-53 < p; }
  std::int64_t any() { return static_cast<std::int64_t>(random_()); }

 private:
  std::mt19937_64 random_;
};

// Regular or not, quiet or wild, whole or with holes: each by half of the seeds.
Readings drawn(unsigned seed) {
  Draw draw(seed);
  const std::int64_t hour = draw.chance(0.1) ? -3 : static_cast<std::int64_t>(draw.below(200000));
  const std::int64_t point = static_cast<std::int64_t>(draw.below(256));
  const std::int64_t step = 1 + static_cast<std::int64_t>(draw.below(20000));
  const std::int64_t jitter = draw.chance(0.5) ? 0 : static_cast<std::int64_t>(draw.below(3000));
  const bool wild = draw.chance(0.2), holes = draw.chance(0.5);
  const std::int64_t noise = static_cast<std::int64_t>(1 + draw.below(100));
  Readings made;
  std::int64_t value = draw.any() % 100000;
  std::uint8_t q = 2;
  for (std::int64_t ms = static_cast<std::int64_t>(draw.below(5000)); ms < kHourMs;
       ms += step + (jitter > 0
                         ? static_cast<std::int64_t>(draw.below(static_cast<std::uint64_t>(jitter)))
                         : 0)) {
    value = wild ? draw.any() : value + draw.any() % noise;
    if (draw.chance(0.02)) q = static_cast<std::uint8_t>(draw.below(256));
    PackedReading reading{(hour * kHourMs + ms) * kPointsInKey + point, value, q};
    if (holes && draw.chance(0.1)) reading.v.reset();
    made.push_back(reading);
  }
  return made;
}

TEST(Block, WhatIsPackedComesBackBitForBit) {
  for (unsigned seed = 0; seed < 600; ++seed) {
    const Readings readings = drawn(seed);
    std::string problem;
    const auto found = unpack_block(key_of_block(readings), pack_block(readings), problem);
    ASSERT_TRUE(found) << seed << ": " << problem;
    ASSERT_TRUE(same(*found, readings)) << seed;
  }
}

TEST(Block, TheEndsOfAllRangesComeBackToo) {
  constexpr std::int64_t kLeast = std::numeric_limits<std::int64_t>::min();
  constexpr std::int64_t kMost = std::numeric_limits<std::int64_t>::max();
  const auto at = [](std::int64_t ms, std::optional<std::int64_t> v, std::uint8_t q) {
    return PackedReading{(7 * kHourMs + ms) * kPointsInKey + 255, v, q};
  };
  const std::vector<Readings> all{
      {at(0, kLeast, 0)},
      {at(kHourMs - 1, std::nullopt, 255)},
      {at(0, kLeast, 2), at(1, kMost, 2), at(2, kLeast, 2), at(kHourMs - 1, 0, 0)},
      {at(5, std::nullopt, 12), at(6, std::nullopt, 12)},
      {at(5, 1, 2), at(6, std::nullopt, 12), at(7, 1, 2), at(8, std::nullopt, 16), at(9, -1, 1)},
  };
  for (const Readings& readings : all) {
    std::string problem;
    const auto found = unpack_block(key_of_block(readings), pack_block(readings), problem);
    ASSERT_TRUE(found) << problem;
    EXPECT_TRUE(same(*found, readings));
  }
  Readings each_ms;
  for (std::int64_t ms = 0; ms < kHourMs; ms += 3) each_ms.push_back(at(ms, ms % 7, 2));
  std::string problem;
  const auto found = unpack_block(key_of_block(each_ms), pack_block(each_ms), problem);
  EXPECT_TRUE(found && same(*found, each_ms)) << problem;
}

TEST(Block, ASingleWrongBitOrALostEndIsToldWithItsPlace) {
  const Readings readings = drawn(4);
  const std::int64_t key = key_of_block(readings);
  const std::string packed = pack_block(readings);
  for (std::size_t bit = 0; bit < packed.size() * 8; ++bit) {
    std::string wrong = packed;
    wrong[bit / 8] = static_cast<char>(wrong[bit / 8] ^ (1 << bit % 8));
    std::string problem;
    EXPECT_FALSE(unpack_block(key, wrong, problem)) << "bit " << bit;
    EXPECT_NE(problem.find("reading_block " + std::to_string(key)), std::string::npos) << problem;
  }
  for (std::size_t size = 0; size < packed.size(); ++size) {
    std::string problem;
    EXPECT_FALSE(unpack_block(key, packed.substr(0, size), problem)) << size;
    EXPECT_FALSE(problem.empty());
  }
}

TEST(Block, OfAnotherPlaceOrALaterProgramItIsRefused) {
  const Readings readings = drawn(4);
  const std::int64_t key = key_of_block(readings);
  std::string problem;
  EXPECT_FALSE(unpack_block(key + kPointsInKey, pack_block(readings), problem));
  EXPECT_NE(problem.find("damaged"), std::string::npos) << problem;
  std::string later = pack_block(readings);
  later.resize(later.size() - 4);
  later[0] = 2;
  EXPECT_FALSE(unpack_block(key, resealed(key, later), problem));
  EXPECT_NE(problem.find("later neap"), std::string::npos) << problem;
}

// With a checksum that fits, so that the form itself must hold.
TEST(Block, AnyBytesAtAllGiveReadingsOfTheHourOrNone) {
  std::size_t believed = 0;
  for (unsigned seed = 0; seed < 15000; ++seed) {
    Draw draw(seed);
    const Readings readings = drawn(seed % 40);
    const std::int64_t key = key_of_block(readings);
    std::string bytes = pack_block(readings);
    bytes.resize(bytes.size() - 4);
    for (std::uint64_t i = 0; i <= draw.below(4); ++i)
      bytes[draw.below(std::min<std::size_t>(bytes.size(), 40))] = static_cast<char>(draw.any());
    if (draw.chance(0.2)) bytes.resize(1 + draw.below(bytes.size()));
    bytes[0] = 1;
    std::string problem;
    const auto found = unpack_block(key, resealed(key, bytes), problem);
    believed += found.has_value();
    if (!found) continue;
    std::int64_t before = std::numeric_limits<std::int64_t>::min();
    for (const PackedReading& reading : *found) {
      ASSERT_GT(reading.k, before) << seed;
      ASSERT_EQ(hour_of(tick_of_key(reading.k)), tick_of_key(key)) << seed;
      before = reading.k;
    }
  }
  EXPECT_GT(believed, 300U);
}

// A probe of 0.01 K that wanders and is noisy, read each 10 s by a clock that is late by some ms.
TEST(Block, AReadingOfAUsualProbeTakesLittleMoreThanAByte) {
  Draw draw(11);
  Readings readings;
  std::int64_t value = 2400;
  for (std::int64_t ms = 0; ms + 10 < kHourMs; ms += 10000) {
    value += static_cast<std::int64_t>(draw.below(3)) - 1;
    const auto noise = static_cast<std::int64_t>(draw.below(5) + draw.below(5)) - 4;
    readings.push_back(
        {(ms + static_cast<std::int64_t>(draw.below(4))) * kPointsInKey, value + noise, 2});
  }
  EXPECT_LT(static_cast<double>(pack_block(readings).size()),
            1.2 * static_cast<double>(readings.size()));
}

TEST(Block, HoursBeforeTheFirstTickAreHoursToo) {
  EXPECT_EQ(hour_of(0), 0);
  EXPECT_EQ(hour_of(kHourMs - 1), 0);
  EXPECT_EQ(hour_of(-1), -1);
  EXPECT_EQ(hour_of(-kHourMs), -1);
  EXPECT_EQ(hour_of(-kHourMs - 1), -2);
}

}  // namespace
}  // namespace neap::journal
