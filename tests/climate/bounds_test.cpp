// Stored bounds are good for what they were computed for, and for nothing else.
#include "tests/bench/climate/bounds.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <stdexcept>

#include "tests/places.h"

namespace neap::arena {
namespace {

Scenario humid_summer() { return *find_scenario("S2"); }

class StoredBounds : public testing::Test {
 protected:
  void SetUp() override {
    path_ = places::in_build("bounds_test_") +
            testing::UnitTest::GetInstance()->current_test_info()->name() + ".txt";
    std::filesystem::remove(path_);
  }
  void TearDown() override { std::filesystem::remove(path_); }

  std::string path_;
};

TEST_F(StoredBounds, ComeBackFromTheirFile) {
  Score score;
  score.in_band = 84.9375;
  score.temperature_h_d = 0.25;
  Bounds bounds;
  bounds.put({"S2", 201, 2, bound_key(humid_summer(), 201, 2), score});
  bounds.put({"S1", 201, 2, 1, score});
  bounds.write(path_);
  const auto found = Bounds::read(path_).find(humid_summer(), 201, 2);
  ASSERT_TRUE(found);
  EXPECT_NEAR(found->in_band, 84.9375, 0.001);
  EXPECT_EQ(found->temperature_h_d, 0.25);
  EXPECT_EQ(found->days, 2);
}

TEST_F(StoredBounds, OfAnotherSeedOrLengthAreNotThere) {
  Bounds bounds;
  bounds.put({"S2", 201, 2, bound_key(humid_summer(), 201, 2), {}});
  EXPECT_FALSE(bounds.find(humid_summer(), 202, 2));
  EXPECT_FALSE(bounds.find(humid_summer(), 201, 4));
  EXPECT_FALSE(Bounds::read(path_).find(humid_summer(), 201, 2));  // no file, no bounds
}

TEST_F(StoredBounds, OfAnotherPlantAreRefused) {
  Bounds bounds;
  bounds.put({"S2", 201, 2, bound_key(humid_summer(), 201, 2), {}});
  Scenario changed = humid_summer();
  changed.parameters += "    leaf_resistance_s_m: 101\n";
  EXPECT_THROW(bounds.find(changed, 201, 2), std::runtime_error);
  EXPECT_FALSE(bounds.holds(changed, 201, 2));
}

TEST_F(StoredBounds, OfAnotherBandOrDwellAreRefused) {
  Bounds bounds;
  bounds.put({"S2", 201, 2, bound_key(humid_summer(), 201, 2), {}});
  Scenario other_stage = humid_summer();
  other_stage.stage = find_scenario("R3")->stage;
  EXPECT_THROW(bounds.find(other_stage, 201, 2), std::runtime_error);
  Scenario other_dwell = humid_summer();
  other_dwell.outputs = find_scenario("R4")->outputs;
  EXPECT_THROW(bounds.find(other_dwell, 201, 2), std::runtime_error);
}

TEST_F(StoredBounds, DoNotCareWhatTheOwnerBelieves) {
  Bounds bounds;
  bounds.put({"S2", 201, 2, bound_key(humid_summer(), 201, 2), {}});
  Scenario believed = humid_summer();
  believed.believed.flow_m3_per_h *= 0.7;
  EXPECT_TRUE(bounds.holds(believed, 201, 2));
}

TEST_F(StoredBounds, ThatCannotBeReadAreToldWithFileAndLine) {
  std::ofstream(path_) << "# scenario seed ...\nS2 201 2 0f 84.9\n";
  try {
    Bounds::read(path_);
    FAIL() << "a line with one score was taken";
  } catch (const std::runtime_error& error) {
    EXPECT_NE(std::string(error.what()).find(path_ + ":2"), std::string::npos) << error.what();
  }
}

}  // namespace
}  // namespace neap::arena
