// Goal: a stage's bands for the solution, reminders and the probes' calibration reach the plan.
#include <gtest/gtest.h>

#include "tests/settings/files.h"

namespace neap::settings {
namespace {

Plan plan_of(const std::string& text) {
  const auto result = load_text(text);
  EXPECT_TRUE(result.loaded.has_value()) << render_all("text", text, result.problems);
  return result.loaded ? result.loaded->plan : Plan{};
}

TEST(Solution, ItsBandsAreInEachStageThatNamesThem) {
  std::string text = shipped("demo.yaml");
  for (const auto& [from, to] : {std::pair{"ph: 5.4..6.6 pH", "ph: 5.5..6.2 pH"},
                                 std::pair{"ec: 1.0..1.8 mS/cm", "ec: 1200..1800 uS/cm"},
                                 std::pair{"water: 15..24 C", "water: 16..24 C"},
                                 std::pair{"level: 25..60 L", "level: 30..60 L"}})
    text = with(text, from, to);  // of the first stage
  const Plan plan = plan_of(text);
  const SolutionTargets& first = plan.programme.stages[0].solution;
  EXPECT_EQ(first[0], (Range{5.5, 6.2}));
  ASSERT_TRUE(first[1]);
  EXPECT_DOUBLE_EQ(first[1]->low, 1.2);
  EXPECT_DOUBLE_EQ(first[1]->high, 1.8);
  EXPECT_EQ(first[2], (Range{30, 60}));
  EXPECT_EQ(first[3], (Range{16, 24}));
  EXPECT_EQ(plan.programme.stages.back().solution, SolutionTargets{}) << "names none";
}

TEST(Solution, RemindersHaveDefaultsAndCanBeTurnedOff) {
  const Plan plan = plan_of(shipped("demo.yaml"));
  EXPECT_EQ(plan.programme.check_every, hours{26});
  EXPECT_EQ(plan.programme.change_every, hours{24 * 14});
  EXPECT_EQ(plan.programme.change_after.value, 0);
  EXPECT_EQ(plan.programme.stage_notice_days, 2);
  EXPECT_EQ(plan.calibration.every[0], hours{24 * 30});
  EXPECT_EQ(plan.calibration.every[1], hours{24 * 60});
  EXPECT_EQ(plan.calibration.ec_per_kelvin, 0);
  const Plan own = plan_of(with(shipped("demo.yaml"), "programme:\n",
                                "calibration: {ph_every: 7 d, ec_every: 0 s, ec_compensation: 1.9 "
                                "%}\nprogramme:\n  check_every: 0 s\n  change_after: 60 L\n"));
  EXPECT_EQ(own.programme.check_every, Millis{0});
  EXPECT_EQ(own.programme.change_after.value, 60);
  EXPECT_EQ(own.calibration.every[0], hours{24 * 7});
  EXPECT_EQ(own.calibration.every[1], Millis{0});
  EXPECT_DOUBLE_EQ(own.calibration.ec_per_kelvin, 0.019);
}

TEST(Solution, ACalibrationBelongsToARealProbeAlone) {
  EXPECT_EQ(plan_of(shipped("demo.yaml")).calibration.hardware, CalibrationPlan{}.hardware);
  const auto with_probe = [](const char* curve) {
    return plan_of(
               with(shipped("starter.yaml"), "\nsensors:\n",
                    "\nsensors:\n  ph:\n    driver: analog_ph\n    with: {chip: ads1015, input: "
                    "voltage0, curve: [" +
                        std::string(curve) +
                        "]}\n    every: 60 s\n    points: {ph: solution.ph}\n"))
        .calibration.hardware[0];
  };
  const auto before = with_probe("1500 mV = 7 pH, 1677 mV = 4 pH");
  ASSERT_TRUE(before);
  EXPECT_NE(before, with_probe("1503 mV = 7 pH, 1677 mV = 4 pH"))
      << "another curve is another probe";
}

}  // namespace
}  // namespace neap::settings
