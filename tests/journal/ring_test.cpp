#include "daemon/journal/ring.h"

#include <gtest/gtest.h>

namespace neap::journal::testing {
namespace {

std::vector<int> contents(const Ring<int>& ring) {
  std::vector<int> out;
  ring.copy(out, 1000);
  return out;
}

TEST(Ring, AFullOneDropsTheOldestAndCountsIt) {
  Ring<int> ring(3);
  for (int i = 1; i <= 5; ++i) ring.push(i);
  EXPECT_EQ(contents(ring), (std::vector<int>{3, 4, 5}));
  EXPECT_EQ(ring.dropped(), 2U);
}

TEST(Ring, ReleasesWhatWasCopiedAndKeepsWhatCameSince) {
  Ring<int> ring(10);
  for (int i = 1; i <= 4; ++i) ring.push(i);
  std::vector<int> batch;
  ring.copy(batch, 3);
  EXPECT_EQ(batch, (std::vector<int>{1, 2, 3}));
  const std::uint64_t from = ring.first();
  ring.push(5);
  ring.release(from, from + batch.size());
  EXPECT_EQ(contents(ring), (std::vector<int>{4, 5}));
  EXPECT_EQ(ring.dropped(), 0U);
}

TEST(Ring, WhatWasDroppedWhileItWasBeingWrittenIsNoLoss) {
  Ring<int> ring(3);
  for (int i = 1; i <= 3; ++i) ring.push(i);
  const std::uint64_t from = ring.first();  // 1 and 2 are being written
  for (int i = 4; i <= 6; ++i) ring.push(i);
  EXPECT_EQ(ring.dropped(), 3U);
  ring.release(from, from + 2);
  EXPECT_EQ(ring.dropped(), 1U) << "only 3 is lost";
  EXPECT_EQ(contents(ring), (std::vector<int>{4, 5, 6}));
}

}  // namespace
}  // namespace neap::journal::testing
