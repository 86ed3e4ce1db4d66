// The two-position law, step by step. Thresholds are worked out in climate_bench.h.
#include <gtest/gtest.h>

#include "daemon/core/fixed_fan_law.h"
#include "daemon/core/two_position_law.h"
#include "tests/core/climate_bench.h"

namespace neap {
namespace {

using climate_bench::air_of;
using climate_bench::air_with_vpd;

class TwoPosition : public testing::Test {
 protected:
  // A scan with a new sample; the devices then do as asked.
  ClimateAsk sample(double vpd) {
    view_.canopy = air_with_vpd(vpd, view_.now);
    view_.new_sample = true;
    return decide();
  }
  // A scan without one.
  ClimateAsk decide() {
    const ClimateAsk ask = law_.decide(view_, memory_);
    if (obey_) {
      view_.fan.level = ask.fan.level;
      view_.dehumidifier.level = ask.dehumidifier.level;
      view_.humidifier.level = ask.humidifier.level;
    }
    view_.new_sample = false;
    return ask;
  }
  void pass(Millis time) { view_.now += time; }
  void room(double celsius, double rh) { view_.room = air_of(celsius, rh); }

  TwoPositionLaw law_;
  LawMemory memory_;
  ClimateView view_ = climate_bench::usual_view();
  bool obey_ = true;
};

TEST_F(TwoPosition, FanGoesUpUnderTheLowThresholdAndStaysUntilTheMiddle) {
  EXPECT_EQ(sample(0.91).fan.level, Permille{200});
  const ClimateAsk up = sample(0.89);
  EXPECT_EQ(up.fan.level, Permille{900});
  EXPECT_EQ(up.fan.because.reason, Reason::vpd_low_in_band);
  EXPECT_NEAR(up.fan.because.args[0], 0.89, 1e-6);
  EXPECT_EQ(sample(0.99).fan.level, Permille{900});
  EXPECT_EQ(sample(1.01).fan.level, Permille{200});
  EXPECT_EQ(sample(0.91).fan.level, Permille{200});
}

TEST_F(TwoPosition, FanSaysWhereTheVpdStands) {
  EXPECT_EQ(sample(1.0).fan.because.reason, Reason::vpd_in_band);
  EXPECT_EQ(sample(0.79).fan.because.reason, Reason::vpd_below_band);
  EXPECT_EQ(sample(1.21).fan.because.reason, Reason::vpd_above_band);
  EXPECT_EQ(sample(1.19).fan.because.reason, Reason::vpd_high_in_band);
}

TEST_F(TwoPosition, WiderHysteresisActsEarlier) {
  view_.tuning.hysteresis = 0.4;  // below 0.8 + 0.16
  EXPECT_EQ(sample(0.95).fan.level, Permille{900});
}

TEST_F(TwoPosition, TwoPositionFanRunsOrStops) {
  view_.fan.variable = false;
  EXPECT_EQ(sample(0.89).fan.level, kRunning);
  EXPECT_EQ(sample(1.01).fan.level, kStopped);
}

TEST_F(TwoPosition, QuietHoursBindTheFanBetweenSamplesToo) {
  EXPECT_EQ(sample(0.85).fan.level, Permille{900});
  view_.fan.ceiling = Permille{600};
  EXPECT_EQ(decide().fan.level, Permille{600});
}

TEST_F(TwoPosition, FanIsTurnedRoundWhereVentingMoistens) {
  view_.dehumidifier.fitted = false;
  room(15, 95);  // cool and damp against a tent of 22 C: heat is what keeps the VPD up
  view_.canopy = air_with_vpd(1.15, view_.now);
  EXPECT_EQ(sample(1.15).fan.level, Permille{900});
  EXPECT_EQ(sample(0.99).fan.level, Permille{200});
  EXPECT_EQ(sample(0.85).fan.level, Permille{200});
}

TEST_F(TwoPosition, DehumidifierWaitsForTheDryingDelayAtFullFan) {
  EXPECT_EQ(sample(0.82).dehumidifier.level, kStopped);
  pass(seconds{10});
  const ClimateAsk at_full = sample(0.82);  // the fan is seen at its most from here on
  EXPECT_EQ(at_full.dehumidifier.level, kStopped);
  EXPECT_EQ(at_full.decide_again, view_.now + minutes{3});
  pass(minutes{3} - Millis{1000});
  EXPECT_EQ(decide().dehumidifier.level, kStopped);
  pass(seconds{1});
  const ClimateAsk after = decide();
  EXPECT_EQ(after.dehumidifier.level, kRunning);
  EXPECT_EQ(after.fan.level, Permille{200});
  EXPECT_EQ(after.fan.because.reason, Reason::drying_by_dehumidifier);
}

TEST_F(TwoPosition, DehumidifierIsNotStartedWhileVentingHoldsTheBand) {
  sample(0.85);
  for (int i = 0; i < 60; ++i) {
    pass(seconds{10});
    EXPECT_EQ(sample(0.83).dehumidifier.level, kStopped);
  }
}

TEST_F(TwoPosition, DelayStartsAgainWhenTheFanLeavesItsMost) {
  sample(0.82);
  pass(seconds{10});
  sample(0.82);
  pass(minutes{2});
  view_.fan.level = Permille{500};  // held by an operator
  sample(0.82);
  pass(seconds{10});
  sample(0.82);
  pass(minutes{2});
  EXPECT_EQ(sample(0.82).dehumidifier.level, kStopped);
}

TEST_F(TwoPosition, DehumidifierStartsAtOnceByNightWhereVentingCannotReachTheBand) {
  view_.targets.day = false;
  room(21, 70);  // room VPD 0.746: full venting reaches 0.67
  const ClimateAsk ask = sample(0.82);
  EXPECT_EQ(ask.dehumidifier.level, kRunning);
  EXPECT_EQ(ask.dehumidifier.because.reason, Reason::venting_too_weak);
  EXPECT_NEAR(ask.dehumidifier.because.args[0], 0.67, 0.005);
  EXPECT_NEAR(ask.dehumidifier.because.args[1], 0.8, 1e-9);
}

TEST_F(TwoPosition, SameRoomByDayIsWorthTryingTheFanFirst) {
  room(21, 70);
  EXPECT_EQ(sample(0.82).dehumidifier.level, kStopped);
}

TEST_F(TwoPosition, DehumidifierInTheTentStopsInTheMiddle) {
  view_.fan.fitted = false;
  EXPECT_EQ(sample(0.82).dehumidifier.level, kRunning);
  EXPECT_EQ(sample(0.99).dehumidifier.level, kRunning);
  EXPECT_EQ(sample(1.01).dehumidifier.level, kStopped);
}

TEST_F(TwoPosition, DehumidifierInTheRoomLeavesTheFanAloneAndStopsWhenVentingIsIdle) {
  view_.beliefs.dehumidifier_place = DehumidifierPlace::room;
  view_.targets.day = false;
  room(21, 70);
  ClimateAsk ask = sample(0.82);
  EXPECT_EQ(ask.dehumidifier.level, kRunning);
  EXPECT_EQ(ask.fan.level, Permille{900});
  ask = sample(1.01);
  EXPECT_EQ(ask.dehumidifier.level, kRunning);
  EXPECT_EQ(ask.fan.level, Permille{200});
  pass(seconds{10});
  sample(1.01);  // the fan is seen at its least from here on
  pass(minutes{3});
  EXPECT_EQ(decide().dehumidifier.level, kStopped);
}

TEST_F(TwoPosition, FanKeepsVentingWhileTheDehumidifierMayNotStart) {
  view_.targets.day = false;
  room(21, 70);
  view_.dehumidifier.may_start = false;
  view_.dehumidifier.may_start_at = view_.now + seconds{100};
  obey_ = false;
  ClimateAsk ask = sample(0.82);
  EXPECT_EQ(ask.dehumidifier.level, kRunning);
  EXPECT_EQ(ask.fan.level, Permille{900});
  EXPECT_EQ(ask.decide_again, view_.dehumidifier.may_start_at);
  pass(seconds{100});
  view_.dehumidifier.may_start = true;
  EXPECT_EQ(decide().fan.level, Permille{200});  // in the very scan in which it starts
}

TEST_F(TwoPosition, NeverAsksToBeWokenInThePast) {
  view_.targets.day = false;
  room(21, 70);
  view_.dehumidifier.may_start = false;  // quiet hours: its dwell ended long ago
  view_.dehumidifier.may_start_at = view_.now - hours{1};
  obey_ = false;
  const ClimateAsk ask = sample(0.82);
  EXPECT_EQ(ask.decide_again, Instant::max());
  EXPECT_EQ(ask.fan.level, Permille{900});
}

TEST_F(TwoPosition, FanVentsAgainWhenSomethingKeepsTheDehumidifierStopped) {
  view_.targets.day = false;
  room(21, 70);
  obey_ = false;  // its bucket is full, say
  EXPECT_EQ(sample(0.82).fan.level, Permille{200});
  pass(seconds{10});
  const ClimateAsk ask = sample(0.82);
  EXPECT_EQ(ask.dehumidifier.level, kRunning);
  EXPECT_EQ(ask.fan.level, Permille{900});
}

TEST_F(TwoPosition, FanCoolsATentThatItsOwnDehumidifierHasOverdried) {
  obey_ = false;
  view_.targets.day = false;
  sample(0.82);
  view_.dehumidifier.level = kRunning;
  view_.dehumidifier.may_stop = false;
  view_.dehumidifier.may_stop_at = view_.now + seconds{200};
  pass(seconds{10});
  EXPECT_EQ(sample(1.05).fan.level, Permille{200});
  room(20, 75);  // now moister than the tent
  EXPECT_EQ(sample(1.15).fan.level, Permille{900});
}

TEST_F(TwoPosition, AnOverdriedTentIsTakenForDrierThanARoomItDoesNotKnow) {
  obey_ = false;
  view_.fan.fitted = true;
  view_.dehumidifier.level = kRunning;
  view_.dehumidifier.may_stop = view_.dehumidifier.may_start = false;
  view_.dehumidifier.may_stop_at = view_.now + seconds{200};
  EXPECT_EQ(sample(1.15).fan.level, Permille{900});
  view_.beliefs.dehumidifier_place = DehumidifierPlace::room;
  pass(seconds{10});
  EXPECT_EQ(sample(1.15).fan.level, Permille{200});
}

TEST_F(TwoPosition, HumidifierWaitsForTheFanAndTheDehumidifier) {
  sample(1.15);  // fan at its least and dehumidifier stopped from here on
  pass(minutes{2});
  ClimateAsk ask = sample(1.15);
  EXPECT_EQ(ask.humidifier.level, kStopped);
  EXPECT_EQ(ask.humidifier.because.reason, Reason::humidifier_waits);
  EXPECT_EQ(ask.decide_again, next_whole_second(view_.now + minutes{3}));
  pass(minutes{3});
  EXPECT_EQ(decide().humidifier.level, kRunning);
  EXPECT_EQ(sample(1.01).humidifier.level, kRunning);
  EXPECT_EQ(sample(0.99).humidifier.level, kStopped);
}

TEST_F(TwoPosition, HumidifierWaitsForAFullFanWhereVentingMoistens) {
  view_.dehumidifier.fitted = false;
  room(15, 95);
  sample(1.15);
  pass(seconds{10});
  sample(1.15);  // the fan is seen at its most from here on
  pass(minutes{2} - Millis{1000});
  EXPECT_EQ(decide().humidifier.level, kStopped);
  pass(seconds{1});
  EXPECT_EQ(decide().humidifier.level, kRunning);
}

TEST_F(TwoPosition, DehumidifierStartsAtOnceWhereVentingMoistens) {
  room(15, 95);  // vapour 1.82 - 1.62 = 0.20 kPa, less than the heat's 0.5 x 0.161 x 7 = 0.56
  const ClimateAsk ask = sample(0.82);
  EXPECT_EQ(ask.fan.level, Permille{200});
  EXPECT_EQ(ask.dehumidifier.level, kRunning);
}

TEST_F(TwoPosition, DehumidifierFoundRunningAtTheFirstSampleIsExpectedToStop) {
  view_.dehumidifier.level = kRunning;
  view_.dehumidifier.may_start = false;
  room(21, 55);
  EXPECT_EQ(sample(0.85).fan.level, Permille{900});
}

TEST_F(TwoPosition, HumidifierWithoutADehumidifierWaitsOnlyForTheFan) {
  view_.dehumidifier.fitted = false;
  sample(1.15);
  pass(minutes{2} - Millis{1000});
  EXPECT_EQ(decide().humidifier.level, kStopped);
  pass(seconds{1});
  EXPECT_EQ(decide().humidifier.level, kRunning);
}

TEST_F(TwoPosition, HumidifierIsNeverAskedForBesideTheDehumidifier) {
  view_.fan.fitted = false;
  sample(1.15);
  pass(minutes{6});
  ASSERT_EQ(sample(1.15).humidifier.level, kRunning);
  view_.dehumidifier.level = kRunning;  // started by an operator
  pass(seconds{10});
  EXPECT_EQ(sample(1.15).humidifier.level, kStopped);
}

TEST_F(TwoPosition, LeafBandIsJudgedByTheLeaf) {
  view_.targets.band_of = BandOf::leaf;
  view_.canopy = derive_air(view_.canopy.temperature, view_.canopy.humidity,
                            Reading<Celsius>::absent(Fault::not_fitted), Celsius{-1.5}, view_.now);
  ASSERT_GT(view_.canopy.vpd->value, 0.95);
  ASSERT_LT(view_.canopy.leaf_vpd->value, 0.8);
  EXPECT_EQ(law_.decide(view_, memory_).fan.level, Permille{900});
}

TEST_F(TwoPosition, BetweenSamplesNothingChangesHoweverOftenItIsAsked) {
  sample(0.85);
  const LawMemory before = memory_;
  view_.canopy = air_with_vpd(1.15, view_.now);  // not announced as a new sample
  view_.targets.band = {Kilopascal{0.2}, Kilopascal{0.6}};
  for (int i = 0; i < 9; ++i) {
    pass(seconds{1});
    const ClimateAsk ask = decide();
    EXPECT_EQ(ask.fan.level, Permille{900});
    EXPECT_NEAR(ask.fan.because.args[0], 0.85, 1e-6);
  }
  EXPECT_EQ(memory_.numbers, before.numbers);
  EXPECT_EQ(memory_.ticks, before.ticks);
}

TEST_F(TwoPosition, KeepsToItsOwnPartOfTheMemory) {
  for (std::size_t i = kLawNumbers; i < memory_.numbers.size(); ++i) memory_.numbers[i] = 7;
  for (std::size_t i = kLawTicks; i < memory_.ticks.size(); ++i) memory_.ticks[i] = 7;
  sample(0.82);
  pass(minutes{10});
  sample(1.3);
  for (std::size_t i = kLawNumbers; i < memory_.numbers.size(); ++i)
    EXPECT_EQ(memory_.numbers[i], 7);
  for (std::size_t i = kLawTicks; i < memory_.ticks.size(); ++i) EXPECT_EQ(memory_.ticks[i], 7);
}

TEST(FixedFan, NeverMovesWhateverTheAir) {
  const FixedFanLaw law;
  LawMemory memory;
  ClimateView view = climate_bench::usual_view();
  view.tuning.fixed_fan_level = Permille{430};
  for (const double vpd : {0.2, 1.0, 2.0}) {
    view.canopy = air_with_vpd(vpd);
    const ClimateAsk ask = law.decide(view, memory);
    EXPECT_EQ(ask.fan.level, Permille{430});
    EXPECT_EQ(ask.dehumidifier.level, kStopped);
    EXPECT_EQ(ask.humidifier.level, kStopped);
  }
}

}  // namespace
}  // namespace neap
