// What is derived from one pair of readings, and what venting can do.
#include <gtest/gtest.h>

#include "daemon/core/air.h"
#include "daemon/core/venting.h"
#include "tests/core/climate_bench.h"

namespace neap {
namespace {

using climate_bench::air_of;
using climate_bench::kStart;

Reading<Celsius> warm(double value, Quality quality = Quality::good, Instant taken = kStart) {
  return Reading<Celsius>::of(Celsius{value}, quality, taken);
}
Reading<PercentRh> humid(double value, Quality quality = Quality::good, Instant taken = kStart) {
  return Reading<PercentRh>::of(PercentRh{value}, quality, taken);
}
const Reading<Celsius> kNoLeaf = Reading<Celsius>::absent(Fault::not_fitted);

// FAO-56 table 2.3 (from memory): e0(25.0 C) = 3.168 kPa, e0(23.0 C) = 2.809 kPa, so that 60 % at
// 25 C leaves 0.4 x 3.168 = 1.267 kPa, and a leaf of 23 C 2.809 - 0.6 x 3.168 = 0.908 kPa.
TEST(Air, HasTheVpdOfThePublishedTable) {
  const Air air = derive_air(warm(25), humid(60), warm(23), {}, kStart);
  EXPECT_NEAR(air.vpd->value, 1.267, 0.001);
  EXPECT_NEAR(air.leaf_vpd->value, 0.908, 0.001);
}

TEST(Air, HasDewPointAndVapourDensity) {
  const Air air = derive_air(warm(25), humid(60), kNoLeaf, {}, kStart);
  // 1.901 kPa: between e0(16.5 C) = 1.877 and e0(17.0 C) = 1.938 (FAO-56 table 2.3, from memory).
  EXPECT_GT(air.dew_point->value, 16.5);
  EXPECT_LT(air.dew_point->value, 17.0);
  // rho_v = ea / (R_v T) = 1901 / (461.5 x 298.15) kg/m3 (ideal gas).
  EXPECT_NEAR(air.vapour_density->value, 13.81, 0.02);
}

TEST(Air, TakesTheLeafOffsetOnlyWithoutALeafReading) {
  const Air by_offset = derive_air(warm(25), humid(60), kNoLeaf, Celsius{-2}, kStart);
  EXPECT_NEAR(by_offset.leaf_vpd->value, 0.908, 0.001);
  const Air by_sensor = derive_air(warm(25), humid(60), warm(23), Celsius{-5}, kStart);
  EXPECT_NEAR(by_sensor.leaf_vpd->value, 0.908, 0.001);
}

TEST(Air, IsKnownByTheReadingsItCameFrom) {
  const Air air = derive_air(warm(25), humid(60), kNoLeaf, Celsius{-2}, kStart);
  const auto same = [&](const Reading<Celsius>& t, const Reading<PercentRh>& h,
                        const Reading<Celsius>& leaf,
                        double offset) { return derived_from(air, t, h, leaf, Celsius{offset}); };
  EXPECT_TRUE(same(warm(25), humid(60), kNoLeaf, -2));
  EXPECT_FALSE(same(warm(25.1), humid(60), kNoLeaf, -2));
  EXPECT_FALSE(same(warm(25, Quality::uncertain), humid(60), kNoLeaf, -2));
  EXPECT_FALSE(same(warm(25), humid(60, Quality::good, kStart + seconds{1}), kNoLeaf, -2));
  EXPECT_FALSE(same(warm(25), humid(60), warm(22), -2));
  EXPECT_FALSE(same(warm(25), humid(60), kNoLeaf, -3));  // new settings
  EXPECT_FALSE(derived_from(Air{}, warm(25), humid(60), kNoLeaf, Celsius{-2}));
}

TEST(Air, HasNoLeafVpdWithNeitherSensorNorOffset) {
  const Air air =
      derive_air(warm(25), humid(60), Reading<Celsius>::absent(Fault::stale), {}, kStart);
  EXPECT_FALSE(air.leaf_vpd);
  EXPECT_EQ(air.leaf_vpd.fault(), Fault::stale);
  EXPECT_TRUE(air.vpd.usable());
}

TEST(Air, IsAbsentForTheFaultOfWhatIsMissing) {
  const Air air = derive_air(warm(25), Reading<PercentRh>::absent(Fault::saturated), kNoLeaf,
                             Celsius{-1}, kStart);
  EXPECT_TRUE(air.temperature.usable());
  EXPECT_FALSE(air.vpd);
  EXPECT_EQ(air.vpd.fault(), Fault::saturated);
  EXPECT_EQ(air.leaf_vpd.fault(), Fault::saturated);
  EXPECT_EQ(air.dew_point.fault(), Fault::saturated);
  EXPECT_EQ(air.vapour_density.fault(), Fault::saturated);
}

TEST(Air, IsNoBetterAndNoNewerThanItsWorstSource) {
  const Instant later = kStart + seconds{7};
  const Air air = derive_air(warm(25, Quality::uncertain, later), humid(60), kNoLeaf, {}, later);
  EXPECT_EQ(air.vpd.quality(), Quality::uncertain);
  EXPECT_EQ(air.vpd.taken(), kStart);
}

TEST(Air, OutsideTheFormulasIsOutOfRangeAndNotClamped) {
  const Air air = derive_air(warm(75), humid(60), kNoLeaf, {}, kStart);
  EXPECT_FALSE(air.vpd);
  EXPECT_EQ(air.vpd.fault(), Fault::out_of_range);
}

TEST(Air, OfNoHumidityAtAllHasAVpdButNoDewPoint) {
  const Air air = derive_air(warm(25), humid(0), kNoLeaf, {}, kStart);
  EXPECT_NEAR(air.vpd->value, 3.168, 0.001);
  EXPECT_EQ(air.dew_point.fault(), Fault::out_of_range);
}

// --- venting ------------------------------------------------------------------------------------

// By hand: e 1.901 and 1.169 kPa, s(25 C) 0.1888 kPa/K (FAO-56 table 2.4 has 0.189, from memory),
// G = 1.2 x 1006 x 75/3600 = 25.15 W/K, kappa 0.5015: 0.732 - 0.5015 x 0.1888 x 5 = 0.2583.
TEST(Venting, GainIsVapourLessHeat) {
  ClimateView view;
  view.canopy = air_of(25, 60);
  view.room = air_of(20, 50);
  view.beliefs.fan_m3_per_h = 150;
  EXPECT_NEAR(venting_gain(view).value(), 0.2583, 0.0005);
}

TEST(Venting, IsNotJudgedWithoutTheRoom) {
  ClimateView view;
  view.canopy = air_of(25, 60);
  EXPECT_FALSE(venting_gain(view).has_value());
  EXPECT_FALSE(venting_moistens(venting_gain(view), true));
}

TEST(Venting, MoistensFromAClearLossUntilTheGainIsBack) {
  EXPECT_FALSE(venting_moistens(-0.03, false));
  EXPECT_TRUE(venting_moistens(-0.05, false));
  EXPECT_TRUE(venting_moistens(-0.03, true));
  EXPECT_FALSE(venting_moistens(0.01, true));
}

// Steady VPD at full fan by night, from an earlier simulation of a full canopy that is not kept: no
// published values, but another model than the one line under test.
TEST(Venting, ReachesAtNightWhatASimulatedCanopySays) {
  struct Row {
    double room_c, room_rh, full_fan_kpa;
  };
  for (const Row& row : {Row{18, 55, 0.84}, Row{21, 40, 1.36}, Row{21, 55, 1.01}, Row{21, 65, 0.78},
                         Row{24, 55, 1.21}, Row{24, 75, 0.67}, Row{27, 65, 1.12}}) {
    ClimateView view;
    view.room = air_of(row.room_c, row.room_rh);
    EXPECT_NEAR(reachable_by_venting(view)->value, row.full_fan_kpa, 0.03)
        << row.room_c << " C " << row.room_rh << " %";
  }
}

TEST(Venting, ReachIsNotToldByDayOrWithoutTheRoom) {
  ClimateView view;
  EXPECT_FALSE(reachable_by_venting(view).has_value());
  view.room = air_of(21, 55);
  view.targets.day = true;
  EXPECT_FALSE(reachable_by_venting(view).has_value());
}

TEST(Venting, ReachOfALeafBandIsShiftedByLeafMinusAir) {
  ClimateView view;
  view.room = air_of(21, 55);
  view.targets.band_of = BandOf::leaf;
  view.canopy = derive_air(warm(25), humid(60), warm(23), {}, kStart);  // 0.908 - 1.267
  EXPECT_NEAR(reachable_by_venting(view)->value, 1.007 - 0.359, 0.002);
}

TEST(Venting, OfATwoPositionFanIsRunningOrStopped) {
  LegalMove fan;
  fan.floor = Permille{200};
  fan.ceiling = Permille{700};
  EXPECT_EQ(most_venting(fan), kRunning);
  EXPECT_EQ(least_venting(fan), kStopped);
  fan.ceiling = kStopped;  // quiet hours
  EXPECT_EQ(most_venting(fan), kStopped);
  fan.variable = true;
  EXPECT_EQ(least_venting(fan), kStopped);
  fan.ceiling = Permille{700};
  EXPECT_EQ(most_venting(fan), Permille{700});
  EXPECT_EQ(least_venting(fan), Permille{200});
}

}  // namespace
}  // namespace neap
