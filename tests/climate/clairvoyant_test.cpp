// The clairvoyant: better than a law that knows only now, and bound by the same devices.
#include "tests/bench/climate/clairvoyant.h"

#include <gtest/gtest.h>

#include "daemon/core/two_position_law.h"
#include "tests/bench/climate/bounds.h"
#include "tests/bench/climate/course.h"
#include "tests/bench/climate/scenarios.h"

namespace neap::arena {
namespace {

constexpr std::uint64_t kSeed = 7;

Score foreseen(const char* scenario, int nodes = 24) {
  Effort effort;
  effort.nodes = nodes;
  effort.stride_s = 10;
  return clairvoyant(load(*find_scenario(scenario), kSeed), 0, 1, effort);
}

Score by_two_positions(const char* scenario) {
  static const TwoPositionLaw law;
  Run run;
  run.settings = load(*find_scenario(scenario), kSeed);
  run.law = &law;
  run.warm_up_days = 0;
  run.days = 1;
  return arena::run(run);
}

TEST(Course, KnowsFloodsLightAndBandsOfTheWholeDay) {
  const Course course = foresee(load(*find_scenario("R3"), kSeed), 1);
  ASSERT_EQ(course.steps.size(), 8641U);
  EXPECT_EQ(course.quiet.size(), 1441U);
  int pump_starts = 0, light_edges = 0;
  for (const Course::Change& change : course.changes) {
    if (change.output == Output::pump && change.level == kRunning) ++pump_starts;
    if (change.output == Output::light) ++light_edges;
    EXPECT_NE(change.output, Output::exhaust_fan);
    EXPECT_NE(change.output, Output::dehumidifier);
  }
  EXPECT_EQ(pump_starts, 4);
  EXPECT_EQ(light_edges, 3);  // on at the start, off after 16 h, on at the end
  EXPECT_TRUE(course.steps[360 * 8].day);
  EXPECT_FALSE(course.steps[360 * 20].day);
  EXPECT_EQ(course.steps[360 * 8].band.high, Kilopascal{1.2});
  EXPECT_EQ(course.steps[360 * 20].band.high, Kilopascal{0.9});
}

TEST(Clairvoyant, HoldsAMildRoomAllTheTime) {
  const Score score = foreseen("S1");
  EXPECT_GT(score.in_band, 99);
  EXPECT_EQ(score.temperature_h_d, 0);
  EXPECT_EQ(score.floods, 4);
}

TEST(Clairvoyant, IsAheadOfALawThatKnowsOnlyNow) {
  for (const char* scenario : {"S2", "S7"}) {
    const Score best = foreseen(scenario);
    const Score law = by_two_positions(scenario);
    EXPECT_GT(best.in_band, law.in_band + 3) << scenario;
    EXPECT_LE(best.temperature_h_d, law.temperature_h_d + 0.05) << scenario;
  }
}

TEST(Clairvoyant, ObeysTheCompressorsTimes) {
  const Score score = foreseen("R4");  // 10 min on, 10 min off, 3 starts an hour
  EXPECT_EQ(score.illegal, 0);
  EXPECT_GT(score.starts_d, 3);
  EXPECT_LE(score.starts_d, 72);
}

TEST(Clairvoyant, ObeysTheFansFloor) {
  // Dry winter without a humidifier: only a stopped fan would help, and the floor forbids it.
  EXPECT_LT(foreseen("S12").in_band, 40);
}

TEST(Clairvoyant, WithMoreCoursesIsNotWorse) {
  EXPECT_GT(foreseen("S2", 48).in_band, foreseen("S2", 12).in_band - 0.3);
}

}  // namespace
}  // namespace neap::arena
