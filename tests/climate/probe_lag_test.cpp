// Goal: the observer finds out how late the canopy probe is, so that slow probes are not taken for
// a tent that gives off what it does not. Method: a day and a night of two scenarios of the bench,
// whose true lags are their parameters (mixing and the probe's own).
#include <gtest/gtest.h>

#include "daemon/core/predictive_law.h"
#include "daemon/core/tent_observer.h"
#include "tests/bench/climate/arena.h"
#include "tests/bench/climate/bounds.h"
#include "tests/bench/climate/scenarios.h"

namespace neap::arena {
namespace {

class LastState final : public Watcher {
 public:
  void minute(const Minute& now) override { learnt = load_estimate(now.state.kept.law).learnt; }
  TentLearnt learnt;
};

// At lights-on after a night in which the dehumidifier came and went.
TentLearnt after_a_night(const char* scenario) {
  const PredictiveLaw law;
  Run run;
  run.settings = load(*find_scenario(scenario), 201);
  run.law = &law;
  run.warm_up_days = 0;
  run.days = 1;
  LastState last;
  arena::run(run, &last);
  return last.learnt;
}

TEST(ProbeLag, OfAGoodProbeIsFoundWithinSeconds) {
  const TentLearnt learnt = after_a_night("S2");
  EXPECT_NEAR(learnt.vapour_lag_s.value(), 20 + 30, 15);
  EXPECT_NEAR(learnt.heat_lag_s.value(), 20 + 45, 15);
}

TEST(ProbeLag, OfASlowAndNoisyProbeIsFoundToBeLong) {
  const TentLearnt learnt = after_a_night("S9");
  EXPECT_GT(learnt.vapour_lag_s.value(), 120);  // 180 is true
  EXPECT_GT(learnt.heat_lag_s.value(), 200);    // 300
}

}  // namespace
}  // namespace neap::arena
