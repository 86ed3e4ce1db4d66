// Goal: many readings become few columns without a word lost about the least, the greatest, the
// last and what is missing.
#include "daemon/journal/reader.h"
#include "tests/journal/support.h"

namespace neap::journal::testing {
namespace {

class RollUp : public ::testing::Test {
 protected:
  RollUp() : writer_(Writer::open(options_for(here_.file()))) {}
  std::vector<std::vector<Rolled>> rolled(const std::vector<Point>& points,
                                          std::vector<std::int64_t> edges) {
    writer_->flush();
    std::string error;
    const auto reader = Reader::open(here_.file(), error);
    for (std::int64_t& edge : edges) edge += kStart;
    return reader->roll_up(points, edges);
  }
  void miss(std::int64_t ms, Point point) {
    // Whatever its quality says: what has no value is none.
    writer_->put(ReadingEntry{at(ms), point, std::nullopt, Quality::uncertain, Fault::no_answer});
  }

  const Directory here_;
  std::unique_ptr<Writer> writer_;
};

TEST_F(RollUp, AColumnHasWhatLiesFromItsEdgeAndBeforeTheNext) {
  for (const auto& [ms, value] :
       {std::pair{999, 9.0}, {1000, 1.0}, {1500, 2.5}, {1999, 1.9}, {2000, 4.0}, {3000, 8.0}})
    writer_->put(reading(ms, Point::canopy_vpd, value));
  const auto found = rolled({Point::canopy_vpd}, {1000, 2000, 3000});
  ASSERT_EQ(found.size(), 1U);
  ASSERT_EQ(found[0].size(), 2U);
  const Rolled& first = found[0][0];
  EXPECT_EQ(first.count, 3);
  EXPECT_EQ(first.lowest, 1.0);
  EXPECT_DOUBLE_EQ(first.mean, 1.8);
  EXPECT_EQ(first.highest, 2.5);
  EXPECT_EQ(first.last, 1.9);
  EXPECT_EQ(first.last_tick, kStart + 1999);
  EXPECT_EQ(found[0][1].count, 1);
  EXPECT_EQ(found[0][1].mean, 4.0);
}

TEST_F(RollUp, WhatHasNoUsableValueIsCountedAndIsNoValue) {
  writer_->put(reading(10, Point::solution_ph, 5.9));
  miss(20, Point::solution_ph);
  writer_->put(ReadingEntry{at(30), Point::solution_ph, 13.0, Quality::bad, Fault::jump});
  miss(110, Point::solution_ph);
  writer_->put(reading(120, Point::solution_ph, 6.1));
  const auto found = rolled({Point::solution_ph}, {0, 100, 200, 300});
  EXPECT_EQ(found[0][0].count, 1);
  EXPECT_EQ(found[0][0].missing, 2);
  EXPECT_EQ(found[0][0].highest, 5.9);
  EXPECT_TRUE(found[0][0].ended_missing);
  EXPECT_FALSE(found[0][1].ended_missing);
  EXPECT_EQ(found[0][2].count + found[0][2].missing, 0);
}

TEST_F(RollUp, SeveralPointsAreReadInOneGoAndKeptApart) {
  writer_->put(reading(5, Point::canopy_vpd, 0.8));
  writer_->put(reading(5, Point::room_vpd, 1.2));
  writer_->put(reading(5, Point::canopy_humidity, 61));
  const auto found =
      rolled({Point::room_vpd, Point::canopy_vpd, Point::room_vpd, Point::leaf_vpd}, {0, 10});
  EXPECT_EQ(found[0][0].mean, 1.2);
  EXPECT_EQ(found[1][0].mean, 0.8);
  EXPECT_EQ(found[2][0].mean, 1.2);
  EXPECT_EQ(found[3][0].count, 0);
}

TEST_F(RollUp, AColumnWithoutWidthIsEmpty) {
  writer_->put(reading(100, Point::canopy_vpd, 0.8));
  const auto found = rolled({Point::canopy_vpd}, {0, 100, 100, 100, 200});
  EXPECT_EQ(found[0][1].count + found[0][2].count, 0);
  EXPECT_EQ(found[0][3].count, 1);
  EXPECT_TRUE(rolled({Point::canopy_vpd}, {})[0].empty());
}

}  // namespace
}  // namespace neap::journal::testing
