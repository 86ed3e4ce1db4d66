// What surrounds a law: limits before the band, the fall-back, demands, and a band out of reach.
#include <gtest/gtest.h>

#include "daemon/core/climate.h"
#include "tests/core/climate_bench.h"

namespace neap {
namespace {

using climate_bench::air_of;
using climate_bench::air_with_vpd;

// Asks what it is told to, and says what it was given.
class ToldLaw final : public ClimateLaw {
 public:
  std::uint32_t id() const override { return 77; }
  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override {
    tuning = view.tuning;
    memory.numbers[0] += 1;
    ClimateAsk ask;
    ask.fan = {true, fan, because(Reason::law_demand)};
    ask.dehumidifier = {true, dehumidifier, because(Reason::law_demand)};
    ask.humidifier = {true, humidifier, because(Reason::law_demand)};
    return ask;
  }
  Permille fan{500};
  Permille dehumidifier = kStopped;
  Permille humidifier = kStopped;
  mutable Tuning tuning;
};

class Limits : public testing::Test {
 protected:
  Limits() {
    plan_.outputs[Output::exhaust_fan] = OutputPlan{};
    plan_.outputs[Output::exhaust_fan]->fallback = Permille{400};
    view_.targets.air_lowest = Celsius{16};
    view_.targets.air_highest = Celsius{30};
    view_.targets.humidity_ceiling = PercentRh{75};
  }
  ClimateAsk run() {
    demands_.clear();
    return run_climate(plan_, law_, view_, memory_, demands_);
  }
  ClimateAsk run_with(double celsius, double rh) {
    view_.canopy = air_of(celsius, rh, view_.now);
    return run();
  }

  Plan plan_;
  ToldLaw law_;
  ClimateView view_ = climate_bench::usual_view();
  LawMemory memory_;
  Demands demands_;
};

TEST_F(Limits, InsideThemTheLawHasItsWay) {
  law_.humidifier = kRunning;
  const ClimateAsk ask = run_with(24, 60);
  EXPECT_EQ(ask.fan.level, Permille{500});
  EXPECT_EQ(ask.fan.because.reason, Reason::law_demand);
  EXPECT_EQ(ask.humidifier.level, kRunning);
  ASSERT_EQ(demands_.size(), 3u);
  for (const Demand& demand : demands_) EXPECT_EQ(demand.precedence, Precedence::loop);
  EXPECT_EQ(demands_[0].output, Output::exhaust_fan);
  EXPECT_EQ(demands_[0].level, Permille{500});
  EXPECT_EQ(demands_[2].output, Output::humidifier);
  EXPECT_EQ(demands_[2].level, kRunning);
}

TEST_F(Limits, WhatIsNotFittedIsNotAskedFor) {
  view_.humidifier.fitted = view_.dehumidifier.fitted = false;
  run_with(24, 60);
  ASSERT_EQ(demands_.size(), 1u);
  EXPECT_EQ(demands_[0].output, Output::exhaust_fan);
}

TEST_F(Limits, TheLawIsTunedByThePlan) {
  plan_.climate.hysteresis = 0.1;
  plan_.climate.drying_delay = minutes{9};
  plan_.climate.fixed_fan_level = Permille{123};
  run_with(24, 60);
  EXPECT_EQ(law_.tuning.hysteresis, 0.1);
  EXPECT_EQ(law_.tuning.drying_delay, minutes{9});
  EXPECT_EQ(law_.tuning.fixed_fan_level, Permille{123});
}

TEST_F(Limits, AnotherLawStartsWithAnEmptyMemory) {
  memory_.law = 1;
  memory_.numbers.fill(5);
  memory_.ticks.fill(-1);            // every limit in force, under the other law
  memory_.ticks[kDoubtTicksAt] = 0;  // and no device in doubt
  const ClimateAsk ask = run_with(24, 60);
  EXPECT_EQ(memory_.law, 77u);
  EXPECT_EQ(memory_.numbers[0], 1);
  EXPECT_EQ(memory_.numbers[1], 0);
  EXPECT_EQ(ask.fan.level, Permille{500});
  run_with(24, 60);
  EXPECT_EQ(memory_.numbers[0], 2);
}

// --- no reading
// -----------------------------------------------------------------------------------

TEST_F(Limits, WithoutACanopyReadingTheFallBackStands) {
  law_.dehumidifier = law_.humidifier = kRunning;
  view_.canopy = Air{};
  const ClimateAsk ask = run();
  EXPECT_EQ(ask.fan.level, Permille{400});
  EXPECT_EQ(ask.dehumidifier.level, kStopped);
  EXPECT_EQ(ask.humidifier.level, kStopped);
  EXPECT_EQ(ask.fan.because.reason, Reason::no_canopy_reading);
  EXPECT_EQ(ask.binding, Binding::no_reading);
  EXPECT_EQ(memory_.numbers[0], 0);  // the law was not asked
  EXPECT_EQ(demands_.size(), 3u);
}

TEST_F(Limits, HumidityAloneIsNoReasonToRunADehumidifierBlind) {
  view_.canopy = Air{};
  view_.canopy.humidity = Reading<PercentRh>::of(PercentRh{99}, Quality::good, view_.now);
  EXPECT_EQ(run().dehumidifier.level, kStopped);
}

TEST_F(Limits, HeatIsStillVentedWithoutHumidity) {
  view_.canopy = Air{};
  view_.canopy.temperature = Reading<Celsius>::of(Celsius{31}, Quality::good, view_.now);
  const ClimateAsk ask = run();
  EXPECT_EQ(ask.fan.level, Permille{900});
  EXPECT_EQ(ask.fan.because.reason, Reason::air_too_warm);
  EXPECT_EQ(ask.binding, Binding::no_reading);
}

TEST_F(Limits, ALeafBandWithoutALeafIsNoReading) {
  view_.targets.band_of = BandOf::leaf;
  const ClimateAsk ask = run_with(24, 60);
  EXPECT_EQ(ask.binding, Binding::no_reading);
  EXPECT_EQ(ask.fan.level, Permille{400});
}

// --- temperature
// ------------------------------------------------------------------------------------

TEST_F(Limits, WarmAirIsVentedAndTheDehumidifierStopped) {
  law_.dehumidifier = kRunning;
  EXPECT_EQ(run_with(30.0, 55).fan.level, Permille{500});
  const ClimateAsk ask = run_with(30.1, 55);
  EXPECT_EQ(ask.fan.level, Permille{900});
  EXPECT_EQ(ask.dehumidifier.level, kStopped);
  EXPECT_EQ(ask.fan.because, because(Reason::air_too_warm, 30.1, 30));
}

TEST_F(Limits, WarmAirLetsGoHalfADegreeUnderTheLimit) {
  run_with(30.1, 55);
  EXPECT_EQ(run_with(29.6, 55).fan.level, Permille{900});
  EXPECT_EQ(run_with(29.4, 55).fan.level, Permille{500});
  EXPECT_EQ(run_with(29.9, 55).fan.level, Permille{500});
}

TEST_F(Limits, AWarmerRoomIsNotVentedIn) {
  law_.dehumidifier = kRunning;
  view_.room = air_of(33, 40);
  const ClimateAsk ask = run_with(31, 55);
  EXPECT_EQ(ask.fan.level, Permille{500});
  EXPECT_EQ(ask.dehumidifier.level, kStopped);
}

TEST_F(Limits, ColdAirIsKeptInUnlessItIsTooHumid) {
  const ClimateAsk cold = run_with(15.9, 60);
  EXPECT_EQ(cold.fan.level, Permille{200});
  EXPECT_EQ(cold.fan.because, because(Reason::air_too_cold, 15.9, 16));
  EXPECT_EQ(run_with(15.9, 76).fan.level, Permille{900});
  EXPECT_EQ(run_with(16.4, 60).fan.level, Permille{200});
  EXPECT_EQ(run_with(16.6, 60).fan.level, Permille{500});
}

// --- humidity
// -----------------------------------------------------------------------------------------

TEST_F(Limits, HumidityOverItsCeilingIsDriedByEveryMeans) {
  law_.humidifier = kRunning;
  plan_.climate.dew_point_margin = Celsius{0};
  const ClimateAsk ask = run_with(24, 75.5);
  EXPECT_EQ(ask.fan.level, Permille{900});
  EXPECT_EQ(ask.dehumidifier.level, kRunning);
  EXPECT_EQ(ask.humidifier.level, kStopped);
  EXPECT_EQ(ask.fan.because, because(Reason::humidity_over_ceiling, 75.5, 75));
  EXPECT_EQ(run_with(24, 73.5).dehumidifier.level, kRunning);
  EXPECT_EQ(run_with(24, 72.5).dehumidifier.level, kStopped);
}

TEST_F(Limits, HumidAirIsNotVentedIntoAMoisterTent) {
  plan_.climate.dew_point_margin = Celsius{0};
  view_.room = air_of(24, 95);
  const ClimateAsk ask = run_with(24, 80);
  EXPECT_EQ(ask.fan.level, Permille{200});
  EXPECT_EQ(ask.dehumidifier.level, kRunning);
}

TEST_F(Limits, WarmAndHumidIsVentedWithoutTheDehumidifiersHeat) {
  law_.humidifier = kRunning;
  const ClimateAsk ask = run_with(31, 80);
  EXPECT_EQ(ask.fan.level, Permille{900});
  EXPECT_EQ(ask.dehumidifier.level, kStopped);
  EXPECT_EQ(ask.humidifier.level, kStopped);
}

// Dew point of 22 C, 70 %: ea = 0.7 x 2.644 = 1.851 kPa, 16.28 C (FAO-56 table 2.3, from memory).
TEST_F(Limits, CondensationIsNearWhenTheWallIsWithinTheMarginOfTheDewPoint) {
  view_.room = air_of(14.4, 60);  // wall (22 + 14.4)/2 = 18.2: margin 1.92 K
  const ClimateAsk near = run_with(22, 70);
  EXPECT_EQ(near.dehumidifier.level, kRunning);
  EXPECT_EQ(near.fan.because.reason, Reason::condensation_near);
  EXPECT_NEAR(near.fan.because.args[0], 1.92, 0.02);
  EXPECT_TRUE(near.condensing);
  EXPECT_EQ(near.condensation, near.fan.because);
  view_.room = air_of(15.2, 60);  // wall 18.6: 2.32 K, not yet half a degree over the margin
  EXPECT_EQ(run_with(22, 70).dehumidifier.level, kRunning);
  view_.room = air_of(15.8, 60);  // wall 18.9: 2.62 K
  const ClimateAsk clear = run_with(22, 70);
  EXPECT_EQ(clear.dehumidifier.level, kStopped);
  EXPECT_FALSE(clear.condensing);
}

TEST_F(Limits, WithoutTheRoomTheWallIsTakenForTwoDegreesCooler) {
  EXPECT_EQ(run_with(22, 74).fan.because.reason, Reason::law_demand);  // dew 17.16: margin 2.84
  view_.targets.humidity_ceiling = PercentRh{95};
  const ClimateAsk near = run_with(22, 80);  // ea 2.115 kPa, dew 18.4: margin 1.6
  EXPECT_EQ(near.fan.because.reason, Reason::condensation_near);
  EXPECT_NEAR(near.fan.because.args[0], 1.6, 0.03);
}

// --- a band out of reach
// --------------------------------------------------------------------------------

class OutOfReach : public Limits {
 protected:
  OutOfReach() { view_.targets.humidity_ceiling = PercentRh{95}; }
  ClimateAsk sample(double vpd, Millis later) {
    view_.now += later;
    view_.canopy = air_with_vpd(vpd, view_.now);
    view_.new_sample = true;
    return run();
  }
  ClimateAsk between(Millis later) {
    view_.now += later;
    view_.new_sample = false;
    return run();
  }
};

TEST_F(OutOfReach, IsSaidAfterTwentyMinutesWithEveryMeansInUse) {
  view_.dehumidifier.fitted = false;
  view_.fan.level = Permille{900};
  const ClimateAsk first = sample(0.7, seconds{0});
  EXPECT_EQ(first.binding, Binding::nothing);
  EXPECT_EQ(first.decide_again, view_.now + minutes{20});
  EXPECT_EQ(between(minutes{20} - Millis{1000}).binding, Binding::nothing);
  const ClimateAsk due = between(seconds{1});
  EXPECT_EQ(due.binding, Binding::too_humid);
  EXPECT_EQ(due.diagnosis.reason, Reason::vpd_below_band);
  EXPECT_NEAR(due.diagnosis.args[0], 0.7, 1e-6);
  EXPECT_EQ(due.diagnosis.args[1], 0.8);
}

TEST_F(OutOfReach, NamesWhatVentingCanReachByNight) {
  view_.dehumidifier.fitted = false;
  view_.fan.level = Permille{900};
  view_.targets.day = false;
  view_.room = air_of(21, 70);  // 0.9 x 0.746 kPa
  sample(0.7, seconds{0});
  const ClimateAsk due = between(minutes{20});
  EXPECT_EQ(due.diagnosis.reason, Reason::venting_too_weak);
  EXPECT_NEAR(due.diagnosis.args[0], 0.67, 0.005);
}

TEST_F(OutOfReach, IsNotSaidWhileSomethingIsLeftToTry) {
  view_.fan.level = Permille{900};  // the dehumidifier is fitted and stopped
  sample(0.7, seconds{0});
  EXPECT_EQ(sample(0.7, minutes{25}).binding, Binding::nothing);
  view_.dehumidifier.level = kRunning;  // in the tent: the fan belongs at its least
  sample(0.7, seconds{10});
  EXPECT_EQ(sample(0.7, minutes{25}).binding, Binding::nothing);
  view_.fan.level = Permille{200};
  sample(0.7, seconds{10});
  EXPECT_EQ(sample(0.7, minutes{20}).binding, Binding::too_humid);
}

TEST_F(OutOfReach, StartsCountingAgainAfterATimeInTheBand) {
  view_.dehumidifier.fitted = false;
  view_.fan.level = Permille{900};
  sample(0.7, seconds{0});
  sample(0.85, minutes{19});
  sample(0.7, seconds{10});
  EXPECT_EQ(sample(0.7, minutes{19}).binding, Binding::nothing);
  EXPECT_EQ(sample(0.7, minutes{1}).binding, Binding::too_humid);
  EXPECT_EQ(sample(0.85, seconds{10}).binding, Binding::nothing);
}

TEST_F(OutOfReach, StartsCountingAgainAfterALossOfReading) {
  view_.dehumidifier.fitted = false;
  view_.fan.level = Permille{900};
  sample(0.7, seconds{0});
  sample(0.7, minutes{19});
  view_.canopy = Air{};
  between(seconds{30});
  sample(0.7, seconds{10});
  EXPECT_EQ(sample(0.7, minutes{19}).binding, Binding::nothing);
  EXPECT_EQ(sample(0.7, minutes{1}).binding, Binding::too_humid);
}

TEST_F(OutOfReach, DryAirNeedsTheHumidifierInUse) {
  sample(1.4, seconds{0});
  EXPECT_EQ(sample(1.4, minutes{20}).binding, Binding::nothing);
  view_.humidifier.level = kRunning;
  sample(1.4, seconds{10});
  const ClimateAsk due = sample(1.4, minutes{20});
  EXPECT_EQ(due.binding, Binding::too_dry);
  EXPECT_EQ(due.diagnosis.reason, Reason::vpd_above_band);
}

TEST_F(OutOfReach, HeatIsNamedBeforeTheDrynessItCauses) {
  view_.fan.level = Permille{900};
  view_.canopy = air_of(31, 50, view_.now);  // VPD 2.2 kPa
  run();
  view_.now += minutes{20};
  const ClimateAsk due = run();
  EXPECT_EQ(due.binding, Binding::too_warm);
  EXPECT_EQ(due.diagnosis, because(Reason::air_too_warm, 31, 30));
}

TEST(LawOf, ThePlansChoice) {
  ClimatePlan plan;
  EXPECT_EQ(law_of(plan).id(), 1u);
  plan.law = LawChoice::fixed_fan;
  EXPECT_EQ(law_of(plan).id(), 2u);
  plan.law = LawChoice::predictive;
  EXPECT_EQ(law_of(plan).id(), 3u);
  plan.law = LawChoice::rule;
  EXPECT_EQ(law_of(plan).id(), 4u);
}

}  // namespace
}  // namespace neap
