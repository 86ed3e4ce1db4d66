// Goal: the predictive law stays near what is possible, on tents and seeds that it was not tuned
// on. Method: a few of the bench's scenarios, two days each, against the clairvoyant's stored
// scores (tests/bench/climate/run plays them all). The floors stand a little under what was seen.
#include <gtest/gtest.h>

#include "daemon/core/predictive_law.h"
#include "tests/bench/climate/baselines.h"
#include "tests/bench/climate/bounds.h"
#include "tests/places.h"

namespace neap::arena {
namespace {

constexpr std::uint64_t kSeed = 201;
constexpr int kDays = 2;

Score played(const Scenario& scenario, const ClimateLaw& law, bool bare) {
  Run run;
  run.settings = load(scenario, kSeed);
  run.law = &law;
  run.bare = bare;
  run.days = kDays;
  return arena::run(run);
}

struct Floor {
  const char* scenario;
  double ratio;  // of the clairvoyant's time in band
};

class ClimateFloor : public testing::TestWithParam<Floor> {};

TEST_P(ClimateFloor, IsHeldAndTheHumidistatIsFarBelow) {
  const Scenario* scenario = find_scenario(GetParam().scenario);
  ASSERT_NE(scenario, nullptr);
  const Bounds bounds = Bounds::read(places::in_project("tests/bench/climate/bounds.txt"));
  const auto bound = bounds.find(*scenario, kSeed, kDays);
  ASSERT_TRUE(bound.has_value());
  const PredictiveLaw predictive;
  const Humidistat humidistat;
  const Score ours = played(*scenario, predictive, false);
  const Score theirs = played(*scenario, humidistat, true);
  EXPECT_GE(ours.in_band, GetParam().ratio * bound->in_band);
  EXPECT_GE(ours.in_band, theirs.in_band + 15);
  EXPECT_EQ(ours.illegal, 0);
  EXPECT_EQ(ours.latched, "");
  EXPECT_LE(ours.temperature_h_d, bound->temperature_h_d + 0.1);
}

INSTANTIATE_TEST_SUITE_P(Scenarios, ClimateFloor,
                         testing::Values(Floor{"S1", 0.98}, Floor{"S2", 0.93}, Floor{"S5", 0.90},
                                         Floor{"S8", 0.96}, Floor{"R3", 0.94}),
                         [](const auto& row) { return std::string(row.param.scenario); });

}  // namespace
}  // namespace neap::arena
