// Light, bands and quiet hours at a civil time. Expected values are worked out by hand beside each
// case.
#include <gtest/gtest.h>

#include <cstdint>
#include <random>
#include <string>
#include <vector>

#include "daemon/core/programme.h"

namespace neap {
namespace {

constexpr std::int32_t kHour = 3600;
constexpr std::int32_t kDate = 20605;  // 2026-06-01

constexpr CivilTime at(std::int32_t date, std::int32_t hour, std::int32_t minute = 0,
                       std::int32_t second = 0) {
  return {date, hour * kHour + minute * 60 + second};
}

StagePlan lit(std::int32_t on_s, std::int32_t length_s) {
  StagePlan stage;
  stage.name = "leafing";
  stage.lights_on_s = on_s;
  stage.light_length_s = length_s;
  stage.vpd_day = {Kilopascal{0.8}, Kilopascal{1.2}};
  stage.vpd_night = {Kilopascal{0.5}, Kilopascal{0.9}};
  return stage;
}

struct LightCase {
  const char* what;
  std::int32_t on_s;
  std::int32_t length_s;
  CivilTime now;
  bool light;
  CivilTime on;
  CivilTime off;
};

class Light : public testing::TestWithParam<LightCase> {};

TEST_P(Light, IsOnFromLightsOnUntilJustBeforeLightsOff) {
  const LightCase& c = GetParam();
  const StagePlan stage = lit(c.on_s, c.length_s);
  EXPECT_EQ(is_light(stage, c.now), c.light);
  EXPECT_EQ(photoperiod_at(stage, c.now).on, c.on);
  EXPECT_EQ(photoperiod_at(stage, c.now).off, c.off);
}

constexpr std::int32_t k16 = 16 * kHour;
INSTANTIATE_TEST_SUITE_P(
    Cases, Light,
    testing::Values(
        LightCase{"in the day", 6 * kHour, k16, at(kDate, 12), true, at(kDate, 6), at(kDate, 22)},
        LightCase{"first second", 6 * kHour, k16, at(kDate, 6), true, at(kDate, 6), at(kDate, 22)},
        LightCase{"a second before", 6 * kHour, k16, at(kDate, 5, 59, 59), false, at(kDate - 1, 6),
                  at(kDate - 1, 22)},
        LightCase{"last second", 6 * kHour, k16, at(kDate, 21, 59, 59), true, at(kDate, 6),
                  at(kDate, 22)},
        LightCase{"first dark second", 6 * kHour, k16, at(kDate, 22), false, at(kDate, 6),
                  at(kDate, 22)},
        LightCase{"over midnight, evening", 20 * kHour, k16, at(kDate, 23), true, at(kDate, 20),
                  at(kDate + 1, 12)},
        LightCase{"over midnight, morning", 20 * kHour, k16, at(kDate, 11, 59, 59), true,
                  at(kDate - 1, 20), at(kDate, 12)},
        LightCase{"over midnight, noon", 20 * kHour, k16, at(kDate, 12), false, at(kDate - 1, 20),
                  at(kDate, 12)},
        LightCase{"all day", 6 * kHour, 24 * kHour, at(kDate, 5, 59, 59), true, at(kDate - 1, 6),
                  at(kDate, 6)},
        LightCase{"never", 6 * kHour, 0, at(kDate, 6), false, at(kDate, 6), at(kDate, 6)},
        LightCase{"to midnight exactly", 8 * kHour, k16, at(kDate, 23, 59, 59), true, at(kDate, 8),
                  at(kDate + 1, 0)},
        LightCase{"before the epoch", 20 * kHour, k16, at(-1, 1), true, at(-2, 20), at(-1, 12)}),
    [](const auto& test) {
      std::string name;
      for (const char c : std::string(test.param.what)) name += std::isalnum(c) ? c : '_';
      return name;
    });

TEST(Light, IsNeverOnInFallow) {
  StagePlan stage = lit(6 * kHour, k16);
  stage.fallow = true;
  EXPECT_FALSE(is_light(stage, at(kDate, 12)));
  EXPECT_EQ(light_level_at(stage, at(kDate, 12)), kStopped);
  EXPECT_EQ(band_at(stage, at(kDate, 12)), stage.vpd_night);
}

TEST(Light, RampsUpAfterLightsOnAndDownBeforeLightsOff) {
  StagePlan stage = lit(6 * kHour, k16);
  stage.light_level = Permille{800};
  stage.light_ramp_s = 1800;
  EXPECT_EQ(light_level_at(stage, at(kDate, 5, 59, 59)), kStopped);
  EXPECT_EQ(light_level_at(stage, at(kDate, 6)), kStopped);
  EXPECT_EQ(light_level_at(stage, at(kDate, 6, 15)), Permille{400});
  EXPECT_EQ(light_level_at(stage, at(kDate, 6, 30)), Permille{800});
  EXPECT_EQ(light_level_at(stage, at(kDate, 21, 30)), Permille{800});
  EXPECT_EQ(light_level_at(stage, at(kDate, 21, 45)), Permille{400});
  EXPECT_EQ(light_level_at(stage, at(kDate, 22)), kStopped);
}

TEST(Light, HasNothingToRampWithoutAnEdge) {
  StagePlan stage = lit(6 * kHour, 24 * kHour);
  stage.light_ramp_s = 1800;
  EXPECT_EQ(light_level_at(stage, at(kDate, 6)), kRunning);
  EXPECT_EQ(light_level_at(stage, at(kDate, 5, 59, 59)), kRunning);
}

TEST(Light, RampsMeetInThePeakOfAShortDay) {
  StagePlan stage = lit(6 * kHour, 1800);
  stage.light_ramp_s = 1800;
  EXPECT_EQ(light_level_at(stage, at(kDate, 6, 15)), Permille{500});
}

TEST(VpdBand, MovesLinearlyAfterEachLightEdge) {
  const StagePlan stage = lit(6 * kHour, k16);  // ramp 30 min
  EXPECT_EQ(band_at(stage, at(kDate, 5, 59, 59)), stage.vpd_night);
  EXPECT_EQ(band_at(stage, at(kDate, 6)), stage.vpd_night);
  const Band rising = band_at(stage, at(kDate, 6, 10));  // a third of the way
  EXPECT_NEAR(rising.low.value, 0.6, 1e-12);
  EXPECT_NEAR(rising.high.value, 1.0, 1e-12);
  EXPECT_EQ(band_at(stage, at(kDate, 6, 30)), stage.vpd_day);
  EXPECT_EQ(band_at(stage, at(kDate, 22)), stage.vpd_day);
  const Band falling = band_at(stage, at(kDate, 22, 15));
  EXPECT_NEAR(falling.low.value, 0.65, 1e-12);
  EXPECT_NEAR(falling.high.value, 1.05, 1e-12);
  EXPECT_EQ(band_at(stage, at(kDate, 22, 30)), stage.vpd_night);
}

TEST(VpdBand, ChangesAtOnceWithoutARamp) {
  StagePlan stage = lit(6 * kHour, k16);
  stage.band_ramp_s = 0;
  EXPECT_EQ(band_at(stage, at(kDate, 6)), stage.vpd_day);
  EXPECT_EQ(band_at(stage, at(kDate, 22)), stage.vpd_night);
}

TEST(VpdBand, DoesNotJumpWhereTheRampIsLongerThanTheDay) {
  const StagePlan stage = lit(6 * kHour, 600);  // 10 min of light, 30 min of ramp
  EXPECT_NEAR(band_at(stage, at(kDate, 6, 9, 59)).low.value, 0.8, 0.001);
  EXPECT_EQ(band_at(stage, at(kDate, 6, 10)), stage.vpd_day);
}

TEST(VpdBand, DoesNotJumpWhereTheRampIsLongerThanTheNight) {
  const StagePlan stage = lit(6 * kHour, 24 * kHour - 600);  // 10 min of dark, 30 min of ramp
  EXPECT_NEAR(band_at(stage, at(kDate, 5, 59, 59)).low.value, 0.5, 0.001);
  EXPECT_EQ(band_at(stage, at(kDate, 6)), stage.vpd_night);
}

TEST(VpdBand, IsTheDaysUnderEndlessLightAndTheNightsWithoutAny) {
  EXPECT_EQ(band_at(lit(6 * kHour, 24 * kHour), at(kDate, 6)), lit(0, 0).vpd_day);
  EXPECT_EQ(band_at(lit(6 * kHour, 0), at(kDate, 6)), lit(0, 0).vpd_night);
}

TEST(QuietHours, IncludeTheirStartAndNotTheirEnd) {
  const QuietHours night{true, 22 * kHour, 6 * kHour};
  EXPECT_FALSE(in_quiet_hours(night, 22 * kHour - 1));
  EXPECT_TRUE(in_quiet_hours(night, 22 * kHour));
  EXPECT_TRUE(in_quiet_hours(night, 0));
  EXPECT_TRUE(in_quiet_hours(night, 6 * kHour - 1));
  EXPECT_FALSE(in_quiet_hours(night, 6 * kHour));
  const QuietHours noon{true, 12 * kHour, 14 * kHour};
  EXPECT_TRUE(in_quiet_hours(noon, 12 * kHour));
  EXPECT_FALSE(in_quiet_hours(noon, 14 * kHour));
  EXPECT_FALSE(in_quiet_hours(noon, 0));
}

TEST(QuietHours, AreNeverThereWhenNotFittedOrEmpty) {
  EXPECT_FALSE(in_quiet_hours({false, 0, 12 * kHour}, 6 * kHour));
  EXPECT_FALSE(in_quiet_hours({true, 6 * kHour, 6 * kHour}, 6 * kHour));
}

// The edges say when it is light, is_light() says whether: over random stages they agree on any
// second of a year, the band stays between day and night, and the ramped light never passes its
// level.
TEST(Light, AgreesWithItsEdgesOverAYearOfRandomStages) {
  for (unsigned seed = 0; seed < 500; ++seed) {
    std::mt19937 random(seed);
    const auto upto = [&](std::int32_t most) {
      return static_cast<std::int32_t>(random() % (static_cast<std::uint32_t>(most) + 1));
    };
    StagePlan stage = lit(upto(kSecondsPerDay - 1), upto(kSecondsPerDay));
    stage.light_ramp_s = upto(7200);
    stage.band_ramp_s = upto(7200);
    for (int sample = 0; sample < 365; ++sample) {
      const CivilTime now{kDate + sample, upto(kSecondsPerDay - 1)};
      const LightEdges edges = photoperiod_at(stage, now);
      ASSERT_LE(edges.on, now) << "seed " << seed;
      ASSERT_LT(civil_seconds_between(edges.on, now), kSecondsPerDay) << "seed " << seed;
      ASSERT_EQ(civil_seconds_between(edges.on, edges.off), stage.light_length_s);
      ASSERT_EQ(is_light(stage, now), now < edges.off) << "seed " << seed;
      ASSERT_LE(light_level_at(stage, now), stage.light_level);
      if (!is_light(stage, now)) {
        ASSERT_EQ(light_level_at(stage, now), kStopped);
      }
      const Band band = band_at(stage, now);
      ASSERT_GE(band.low, stage.vpd_night.low);
      ASSERT_LE(band.low, stage.vpd_day.low);
    }
  }
}

// The shell's offset changes with daylight saving; the programme sees only the civil time.
TEST(Programme, TakesDaylightSavingOnlyThroughCivilTime) {
  const StagePlan stage = lit(6 * kHour, k16);
  const std::int64_t noon_utc_ms = 1780315200000;  // 2026-06-01T12:00:00Z
  const CivilTime summer = civil_of({noon_utc_ms, 7200, TimeQuality::synced});
  const CivilTime winter = civil_of({noon_utc_ms + 3600000, 3600, TimeQuality::synced});
  ASSERT_EQ(summer, at(kDate, 14));
  ASSERT_EQ(summer, winter);
  EXPECT_EQ(band_at(stage, summer), band_at(stage, winter));
  EXPECT_EQ(photoperiod_at(stage, summer).on, photoperiod_at(stage, winter).on);
}

TEST(StageAdvice, CountsDaysFromOne) {
  ProgrammePlan programme;
  programme.stages.resize(2);
  programme.stages[0].days = 10;
  EXPECT_EQ(advise_stage(programme, 0, kDate, kDate).day, 1);
  EXPECT_FALSE(advise_stage(programme, 0, kDate, kDate + 9).due);  // day 10 of 10
  EXPECT_TRUE(advise_stage(programme, 0, kDate, kDate + 10).due);
  EXPECT_EQ(advise_stage(programme, 0, kDate, kDate + 10).day, 11);
}

TEST(StageAdvice, NeverPressesInTheLastStageOrOneWithoutDays) {
  ProgrammePlan programme;
  programme.stages.resize(2);
  programme.stages[1].days = 10;
  EXPECT_FALSE(advise_stage(programme, 0, kDate, kDate + 500).due);
  EXPECT_FALSE(advise_stage(programme, 1, kDate, kDate + 500).due);
}

TEST(StageAdvice, StaysAtDayOneWhenTheClockStepsBehindTheEntry) {
  ProgrammePlan programme;
  programme.stages.resize(2);
  programme.stages[0].days = 10;
  EXPECT_EQ(advise_stage(programme, 0, kDate, kDate - 3).day, 1);
  EXPECT_FALSE(advise_stage(programme, 0, kDate, kDate - 3).due);
}

}  // namespace
}  // namespace neap
