// The rule law, rule by rule, and in the small simulated tent of climate_tent.h. The bounds of the
// simulated runs are what this test measured, with a margin; no published source.
#include "daemon/core/rule_law.h"

#include <gtest/gtest.h>

#include "daemon/core/two_position_law.h"
#include "tests/core/climate_bench.h"
#include "tests/core/climate_tent.h"

namespace neap {
namespace {

using climate_bench::air_of;
using climate_bench::air_with_vpd;

class Rules : public testing::Test {
 protected:
  Rules() { room(21, 40); }  // dry and cooler than the tent: venting dries
  // A new sample ten seconds after the last; the devices then do as asked.
  ClimateAsk sample(double vpd) {
    view_.now += seconds{10};
    view_.canopy = air_with_vpd(vpd, view_.now);
    view_.new_sample = true;
    const ClimateAsk ask = law_.decide(view_, memory_);
    obey(view_.fan, ask.fan);
    obey(view_.dehumidifier, ask.dehumidifier);
    obey(view_.humidifier, ask.humidifier);
    return ask;
  }
  ClimateAsk samples(double vpd, Millis length) {
    ClimateAsk ask;
    for (Millis passed{}; passed < length; passed += seconds{10}) ask = sample(vpd);
    return ask;
  }
  void room(double celsius, double rh) { view_.room = air_of(celsius, rh); }
  static void obey(LegalMove& move, const Wish& wish) {
    if (move.fitted) move.level = wish.level;
  }

  RuleLaw law_;
  LawMemory memory_;
  ClimateView view_ = climate_bench::usual_view();
};

class FanRule : public Rules {
 protected:
  FanRule() {
    view_.dehumidifier.fitted = view_.humidifier.fitted = false;
    view_.fan.level = Permille{500};
  }
};

TEST_F(FanRule, VentsMoreWhenTooHumidAndLessWhenTooDry) {
  samples(1.0, seconds{30});
  const ClimateAsk humid = samples(0.85, minutes{3});
  EXPECT_GT(humid.fan.level, Permille{540});
  EXPECT_EQ(humid.fan.because.reason, Reason::rule_venting_dries);
  const ClimateAsk dry = samples(1.15, minutes{6});
  EXPECT_LT(dry.fan.level, Permille{460});
}

TEST_F(FanRule, KeepsItsIntegralOutOfWhatTheFanCannotDo) {
  samples(0.6, hours{2});  // at its most all the time
  EXPECT_EQ(view_.fan.level, Permille{900});
  samples(1.15, minutes{4});
  EXPECT_LT(view_.fan.level, Permille{700});
}

TEST_F(FanRule, IsTurnedRoundWhereVentingMoistens) {
  room(15, 95);  // cool and damp against a tent of 22 C: heat is what keeps the VPD up
  samples(1.0, seconds{30});
  const ClimateAsk dry = samples(1.2, minutes{4});
  EXPECT_GT(dry.fan.level, Permille{600});
  EXPECT_EQ(dry.fan.because.reason, Reason::rule_venting_moistens);
  EXPECT_LT(samples(0.8, minutes{8}).fan.level, Permille{400});
}

TEST_F(FanRule, IsGentleWhereVentingHardlyMatters) {
  room(22, 62);  // as the tent at 1.0 kPa
  const ClimateAsk ask = samples(1.0, minutes{30});
  EXPECT_EQ(ask.fan.level, Permille{200});
  EXPECT_EQ(ask.fan.because.reason, Reason::rule_venting_matters_little);
}

TEST_F(FanRule, AimsHigherFromTwoMinutesBeforeAFlood) {
  view_.future.flood_coming = true;
  view_.future.next_flood = view_.now + minutes{3};
  const ClimateAsk early = samples(1.0, seconds{50});
  EXPECT_NEAR(early.fan.because.args[1], 1.0, 1e-9);
  const ClimateAsk ahead = samples(1.0, seconds{20});
  EXPECT_EQ(ahead.fan.because.reason, Reason::rule_aim_raised);
  EXPECT_NEAR(ahead.fan.because.args[1], 1.0 + 0.16 * 0.4, 1e-9);
}

TEST_F(FanRule, AimsHigherBeforeTheLightGoesOffButNotBeforeItGoesOn) {
  view_.future.light_edge_coming = true;
  view_.future.next_light_edge = view_.now + minutes{1};
  view_.future.edge_is_lights_on = true;
  EXPECT_NEAR(sample(1.0).fan.because.args[1], 1.0, 1e-9);
  view_.future.edge_is_lights_on = false;
  EXPECT_NEAR(sample(1.0).fan.because.args[1], 1.064, 1e-9);
}

TEST_F(FanRule, OpensNearTheTemperatureLimitIfTheRoomIsCooler) {
  view_.targets.air_highest = Celsius{22.5};
  const ClimateAsk ask = samples(1.15, minutes{20});
  EXPECT_EQ(ask.fan.because.reason, Reason::rule_fan_cools);
  EXPECT_GE(ask.fan.level, Permille{880});  // 0.2 + 0.7 x 1 K
  room(23, 40);
  EXPECT_LT(samples(1.15, minutes{20}).fan.level, Permille{400});
}

TEST_F(FanRule, WithoutSpeedsRunsOrStopsAroundTheAim) {
  view_.fan.variable = false;
  const auto first_wish = [&](Permille level, double vpd) {
    memory_ = {};
    view_.fan.level = level;
    return sample(vpd).fan.level;
  };
  EXPECT_EQ(first_wish(kStopped, 0.9), kRunning);
  EXPECT_EQ(first_wish(kRunning, 1.1), kStopped);
  EXPECT_EQ(first_wish(kRunning, 1.0), kRunning);
  EXPECT_EQ(first_wish(kStopped, 1.0), kStopped);
}

TEST_F(FanRule, BeginsFromTheFanAsItIsAfterALongSilence) {
  samples(0.7, minutes{20});
  ASSERT_EQ(view_.fan.level, Permille{900});
  view_.now += hours{1};
  view_.fan.level = Permille{300};
  EXPECT_NEAR(sample(1.0).fan.level.value, 300, 40);
}

// --- dehumidifier
// ---------------------------------------------------------------------------------

TEST_F(Rules, DehumidifierIsLeftAloneWhereVentingCanHoldTheBand) {
  EXPECT_EQ(samples(0.82, minutes{3}).dehumidifier.level, kStopped);
}

TEST_F(Rules, DehumidifierStartsWhereTheCeilingOfVentingIsTooLow) {
  room(22, 75);  // 0.66 kPa
  view_.targets.day = false;
  EXPECT_EQ(samples(0.82, seconds{50}).dehumidifier.level, kStopped);
  const ClimateAsk ask = samples(0.82, seconds{40});
  EXPECT_EQ(ask.dehumidifier.level, kRunning);
  EXPECT_EQ(ask.dehumidifier.because.reason, Reason::venting_too_weak);
  EXPECT_LT(ask.dehumidifier.because.args[0], 0.8);
  EXPECT_EQ(samples(1.1, minutes{3}).dehumidifier.level, kStopped);
}

TEST_F(Rules, DehumidifierDoesNotAddItsHeatNearTheTemperatureLimit) {
  room(22, 75);
  view_.targets.air_highest = Celsius{22.5};
  for (int i = 0; i < 60; ++i) ASSERT_EQ(sample(0.7).dehumidifier.level, kStopped);
}

TEST_F(Rules, DehumidifierInTheRoomStartsWhenVentingAloneWouldHaveToBeNearlyFull) {
  view_.beliefs.dehumidifier_place = DehumidifierPlace::room;
  room(22, 70);
  EXPECT_EQ(samples(0.85, seconds{90}).dehumidifier.level, kStopped);
  const ClimateAsk ask = samples(0.85, seconds{20});
  EXPECT_EQ(ask.dehumidifier.level, kRunning);
  EXPECT_EQ(ask.dehumidifier.because.reason, Reason::venting_cannot_reach_band);
  room(22, 30);
  EXPECT_EQ(samples(1.1, minutes{9}).dehumidifier.level, kRunning) << "ten minutes at least";
  EXPECT_EQ(samples(1.1, minutes{3}).dehumidifier.level, kStopped);
}

// --- humidifier
// -----------------------------------------------------------------------------------

TEST_F(Rules, HumidifierWaitsUntilTheFanIsWhereTheAirIsMostHumid) {
  view_.fan.level = Permille{500};
  bool any = false;
  for (int i = 0; i < 360; ++i) {
    const Permille fan = view_.fan.level;
    const Permille mist = sample(1.15).humidifier.level;
    ASSERT_TRUE(mist == kStopped || fan == Permille{200}) << i << " " << fan.value;
    any |= mist == kRunning;
  }
  EXPECT_TRUE(any);
}

TEST_F(Rules, HumidifierWorksInPulsesAsShortAsItMay) {
  view_.fan.fitted = false;
  view_.humidifier.min_on = seconds{30};
  int on = 0;
  int starts = 0;
  Permille before = kStopped;
  for (int i = 0; i < 120; ++i) {
    const Permille level = sample(1.15).humidifier.level;
    on += level == kRunning ? 1 : 0;
    starts += level == kRunning && before == kStopped ? 1 : 0;
    before = level;
  }
  EXPECT_GE(starts, 3);
  EXPECT_GE(on, 2 * (starts - 1));  // one may be cut off at the end; the arbiter sees to the rest
  EXPECT_LE(on, 6 * starts);
}

TEST_F(Rules, HumidifierNeverRunsBesideTheDehumidifier) {
  view_.dehumidifier.level = kRunning;
  view_.dehumidifier.may_stop = false;
  for (int i = 0; i < 360; ++i) ASSERT_EQ(sample(1.3).humidifier.level, kStopped);
}

// --- a whole tent
// ---------------------------------------------------------------------------------

constexpr Band kBand{Kilopascal{0.8}, Kilopascal{1.2}};

testing_tent::Tent every_device() {
  testing_tent::Tent tent;
  tent.room_c = 22;
  tent.room_w_swing = 0.002;
  tent.day_g_per_h = 200;
  tent.lamp_w = 180;
  tent.dehumidifier.fitted = true;
  tent.humidifier.fitted = true;
  return tent;
}

TEST(RuleLawInATent, HoldsTheBandWithFewerFanMovesThanTwoPositions) {
  testing_tent::Tent tent = every_device();
  const testing_tent::Score rule = run(Plan{}, RuleLaw{}, tent, kBand);
  testing_tent::Tent again = every_device();
  const testing_tent::Score two = run(Plan{}, TwoPositionLaw{}, again, kBand);
  EXPECT_GE(rule.in_band, 0.99);
  EXPECT_LT(rule.fan_moves_a_day, two.fan_moves_a_day);
}

TEST(RuleLawInATent, DoesNotDependOnHowOftenItIsAsked) {
  testing_tent::Tent fine = every_device();
  testing_tent::Tent coarse = every_device();
  testing_tent::Trace each_second, when_due;
  run(Plan{}, RuleLaw{}, fine, kBand, 1, testing_tent::Stepping::every_second, &each_second);
  run(Plan{}, RuleLaw{}, coarse, kBand, 1, testing_tent::Stepping::when_due, &when_due);
  EXPECT_EQ(each_second.fan, when_due.fan);
  EXPECT_EQ(each_second.dehumidifier, when_due.dehumidifier);
  EXPECT_EQ(each_second.humidifier, when_due.humidifier);
}

}  // namespace
}  // namespace neap
