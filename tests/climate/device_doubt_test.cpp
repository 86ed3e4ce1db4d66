// Goal: no device of the climate is blamed in tents where all of them work, wrong labels, slow
// probes and weak equipment included. Method: scenarios of the bench, each under another law.
#include <gtest/gtest.h>

#include "tests/bench/climate/arena.h"
#include "tests/bench/climate/scenarios.h"

namespace neap::arena {
namespace {

constexpr std::uint64_t kSeed = 201;
constexpr int kDays = 3;

class Blamed final : public Watcher {
 public:
  void minute(const Minute& now) override {
    for (std::size_t i = 0; i < kDoubtCount; ++i)
      if (now.state.doubts.standing[i]) ++minutes;
  }
  int minutes = 0;
};

struct Healthy {
  const char* scenario;
  LawChoice law;
};

class HealthyTent : public testing::TestWithParam<Healthy> {};

TEST_P(HealthyTent, BlamesNoDevice) {
  const Scenario* named = find_scenario(GetParam().scenario);
  const Scenario drawn = random_tent(7);
  settings::LoadResult result =
      settings::load_text(settings_text(named != nullptr ? *named : drawn, kSeed));
  ASSERT_TRUE(result.loaded);
  ClimatePlan climate = result.loaded->plan.climate;
  climate.law = GetParam().law;
  arena::Run run;
  run.settings = std::move(*result.loaded);
  run.law = &law_of(climate);
  run.warm_up_days = 0;
  run.days = kDays;
  Blamed blamed;
  arena::run(run, &blamed);
  EXPECT_EQ(blamed.minutes, 0);
}

INSTANTIATE_TEST_SUITE_P(
    Scenarios, HealthyTent,
    testing::Values(Healthy{"S1", LawChoice::rule}, Healthy{"S2", LawChoice::two_position},
                    Healthy{"S3", LawChoice::rule}, Healthy{"S5", LawChoice::predictive},
                    Healthy{"S8", LawChoice::two_position}, Healthy{"S9", LawChoice::rule},
                    Healthy{"S10", LawChoice::rule}, Healthy{"T7", LawChoice::predictive}),
    [](const auto& row) { return std::string(row.param.scenario); });

}  // namespace
}  // namespace neap::arena
