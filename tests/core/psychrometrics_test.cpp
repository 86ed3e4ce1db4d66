// What must hold of moist air whatever the formula's constants; published values are compared in
// tests/reference.
#include "daemon/core/psychrometrics.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace neap {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr Kilopascal kSeaLevel{101.325};

// Every 0.5 K and 2.5 % of the domain, its corners included.
template <class Visit>
void over_the_domain(Visit visit) {
  for (double t = -40; t <= 60; t += 0.5)
    for (double rh = 0; rh <= 100; rh += 2.5) visit(Celsius{t}, PercentRh{rh});
}

TEST(Psychrometrics, TheDeficitIsNeverNegativeAndZeroInSaturatedAir) {
  over_the_domain([](Celsius t, PercentRh rh) { ASSERT_GE(air_vpd(t, rh)->value, 0); });
  for (double t = -40; t <= 60; t += 0.1)
    ASSERT_EQ(air_vpd(Celsius{t}, PercentRh{100}), Kilopascal{0}) << t;
}

TEST(Psychrometrics, ALeafAtAirTemperatureHasTheDeficitOfTheAir) {
  over_the_domain([](Celsius t, PercentRh rh) { ASSERT_EQ(leaf_vpd(t, rh, t), air_vpd(t, rh)); });
}

// Computed from eq. 11 by hand: e0(23) - 0.6 e0(25) and e0(27) - 0.6 e0(25).
TEST(Psychrometrics, AColderLeafHasLessDeficitAndAWarmerOneMore) {
  EXPECT_NEAR(leaf_vpd(Celsius{25}, PercentRh{60}, Celsius{23})->value, 0.909, 0.002);
  EXPECT_NEAR(leaf_vpd(Celsius{25}, PercentRh{60}, Celsius{27})->value, 1.665, 0.002);
}

TEST(Psychrometrics, ALeafBelowTheDewPointShowsANegativeDeficit) {
  const Celsius air{22};
  const PercentRh rh{85};
  const Celsius dew = dew_point(air, rh).value();
  EXPECT_NEAR(leaf_vpd(air, rh, dew)->value, 0, 1e-12);
  EXPECT_LT(leaf_vpd(air, rh, dew - Celsius{0.5})->value, -0.05);
}

TEST(Psychrometrics, DewPointAndHumidityInvertEachOther) {
  over_the_domain([](Celsius t, PercentRh rh) {
    const auto dew = dew_point(t, rh);
    if (rh.value == 0) {
      ASSERT_FALSE(dew.has_value());
      return;
    }
    ASSERT_LE(dew->value, t.value + 1e-9);
    if (dew->value < -40 || *dew > t) return;  // colder than the domain, or up by rounding
    ASSERT_NEAR(humidity_from_dew_point(t, *dew)->value, rh.value, 1e-9);
  });
}

TEST(Psychrometrics, SaturatedAirIsAtItsDewPoint) {
  for (double t = -40; t <= 60; t += 0.5)
    ASSERT_NEAR(dew_point(Celsius{t}, PercentRh{100})->value, t, 1e-9);
}

TEST(Psychrometrics, HumidityRatioLeadsBackToTheHumidityAtAnyPressure) {
  for (const double p : {50.0, 89.875, 101.325, 110.0}) {
    over_the_domain([p](Celsius t, PercentRh rh) {
      const auto w = humidity_ratio(t, rh, Kilopascal{p});
      ASSERT_NEAR(*relative_humidity_at(t, *w, Kilopascal{p}), rh.value, 1e-9);
    });
  }
}

TEST(Psychrometrics, TemperatureLeadsBackFromEnthalpy) {
  over_the_domain([](Celsius t, PercentRh rh) {
    const auto w = humidity_ratio(t, rh, kSeaLevel).value();
    ASSERT_NEAR(temperature_at(enthalpy(t, w), w).value, t.value, 1e-9);
  });
}

// But for eq. 13's 4098, which stands for 17.27 times 237.3 = 4098.17.
TEST(Psychrometrics, TheSlopeIsTheDerivativeOfTheSaturationPressure) {
  constexpr double kStep = 1e-3;
  for (double t = -39; t <= 59; t += 1) {
    const double rise = saturation_pressure(Celsius{t + kStep})->value -
                        saturation_pressure(Celsius{t - kStep})->value;
    ASSERT_NEAR(*saturation_slope(Celsius{t}), rise / (2 * kStep), 5e-5 * rise / (2 * kStep)) << t;
  }
}

TEST(Psychrometrics, CoolingAtFixedVapourRaisesTheHumidity) {
  // 25 C, 65 % cooled to 20 C: 88.1 % (eq. 11, by hand).
  const auto dew = dew_point(Celsius{25}, PercentRh{65});
  EXPECT_NEAR(humidity_from_dew_point(Celsius{20}, *dew)->value, 88.1, 0.05);
}

TEST(Psychrometrics, OutsideTheDomainThereIsNoValue) {
  for (const double t : {-40.01, 60.01, -300.0, kNan, kInfinity, -kInfinity}) {
    const Celsius air{t};
    const PercentRh rh{50};
    EXPECT_FALSE(saturation_pressure(air)) << t;
    EXPECT_FALSE(saturation_slope(air)) << t;
    EXPECT_FALSE(vapour_pressure(air, rh)) << t;
    EXPECT_FALSE(air_vpd(air, rh)) << t;
    EXPECT_FALSE(leaf_vpd(air, rh, Celsius{20})) << t;
    EXPECT_FALSE(leaf_vpd(Celsius{20}, rh, air)) << t;
    EXPECT_FALSE(dew_point(air, rh)) << t;
    EXPECT_FALSE(humidity_from_dew_point(air, Celsius{10})) << t;
    EXPECT_FALSE(humidity_from_dew_point(Celsius{20}, air)) << t;
    EXPECT_FALSE(vapour_pressure_from_wet_bulb(air, Celsius{15}, kSeaLevel)) << t;
    EXPECT_FALSE(vapour_pressure_from_wet_bulb(Celsius{20}, air, kSeaLevel)) << t;
    EXPECT_FALSE(vapour_density(air, rh)) << t;
    EXPECT_FALSE(humidity_ratio(air, rh, kSeaLevel)) << t;
    EXPECT_FALSE(relative_humidity_at(air, KilogramPerKilogram{0.01}, kSeaLevel)) << t;
  }
  for (const double value : {-0.01, 100.01, kNan, kInfinity}) {
    const PercentRh rh{value};
    EXPECT_FALSE(vapour_pressure(Celsius{20}, rh)) << value;
    EXPECT_FALSE(air_vpd(Celsius{20}, rh)) << value;
    EXPECT_FALSE(leaf_vpd(Celsius{20}, rh, Celsius{20})) << value;
    EXPECT_FALSE(dew_point(Celsius{20}, rh)) << value;
    EXPECT_FALSE(vapour_density(Celsius{20}, rh)) << value;
    EXPECT_FALSE(humidity_ratio(Celsius{20}, rh, kSeaLevel)) << value;
  }
  for (const double value : {49.9, 110.1, kNan, kInfinity}) {
    const Kilopascal p{value};
    EXPECT_FALSE(vapour_pressure_from_wet_bulb(Celsius{20}, Celsius{15}, p)) << value;
    EXPECT_FALSE(humidity_ratio(Celsius{20}, PercentRh{50}, p)) << value;
    EXPECT_FALSE(relative_humidity_at(Celsius{20}, KilogramPerKilogram{0.01}, p)) << value;
  }
  for (const double w : {-1e-9, kNan, kInfinity})
    EXPECT_FALSE(relative_humidity_at(Celsius{20}, KilogramPerKilogram{w}, kSeaLevel)) << w;
  for (const double z : {-501.0, 5001.0, kNan}) EXPECT_FALSE(pressure_at_altitude(z)) << z;
}

TEST(Psychrometrics, TheEdgesOfTheDomainHaveValues) {
  for (const double t : {-40.0, 60.0}) {
    EXPECT_TRUE(air_vpd(Celsius{t}, PercentRh{0}));
    EXPECT_TRUE(air_vpd(Celsius{t}, PercentRh{100}));
    EXPECT_GT(humidity_ratio(Celsius{t}, PercentRh{100}, Kilopascal{50})->value, 0);
    EXPECT_LT(humidity_ratio(Celsius{t}, PercentRh{100}, Kilopascal{50})->value, 1);
  }
}

TEST(Psychrometrics, ImpossiblePairsHaveNoValue) {
  EXPECT_FALSE(humidity_from_dew_point(Celsius{20}, Celsius{20.01}));
  EXPECT_FALSE(vapour_pressure_from_wet_bulb(Celsius{20}, Celsius{20.01}, kSeaLevel));
  // Perfectly dry air of 40 C cools a wet bulb to about 14 C, never to 5 C.
  EXPECT_FALSE(vapour_pressure_from_wet_bulb(Celsius{40}, Celsius{5}, kSeaLevel));
}

TEST(Mixing, TwoUnsaturatedStreamsCanMakeFog) {
  const auto stream = [](Celsius t, PercentRh rh) {
    return AirStream{1, t, humidity_ratio(t, rh, kSeaLevel).value()};
  };
  const auto mixed =
      mix(stream(Celsius{5}, PercentRh{95}), stream(Celsius{35}, PercentRh{90}), kSeaLevel);
  // psychrolib 1.1.1 has 20.37 C, 18.93 g/kg, 125 % for this pair.
  EXPECT_NEAR(mixed->temperature.value, 20.37, 0.02);
  EXPECT_NEAR(mixed->humidity_ratio.value, 0.018928, 3e-5);
  EXPECT_NEAR(mixed->relative_humidity, 125, 0.5);
  EXPECT_TRUE(mixed->supersaturated);
}

TEST(Mixing, AStreamMixedWithItselfIsUnchanged) {
  const Celsius t{24};
  const auto w = humidity_ratio(t, PercentRh{60}, kSeaLevel).value();
  const auto mixed = mix({0.7, t, w}, {3.1, t, w}, kSeaLevel);
  EXPECT_NEAR(mixed->temperature.value, 24, 1e-9);
  EXPECT_NEAR(mixed->humidity_ratio.value, w.value, 1e-15);
  EXPECT_NEAR(mixed->relative_humidity, 60, 1e-9);
  EXPECT_FALSE(mixed->supersaturated);
}

TEST(Mixing, TheLargerStreamCountsForMoreWhicheverComesFirst) {
  const AirStream cold{3, Celsius{10}, KilogramPerKilogram{0.004}};
  const AirStream warm{1, Celsius{30}, KilogramPerKilogram{0.012}};
  const auto one = mix(cold, warm, kSeaLevel);
  const auto other = mix(warm, cold, kSeaLevel);
  EXPECT_NEAR(one->humidity_ratio.value, 0.006, 1e-12);
  EXPECT_NEAR(one->temperature.value, 15.1, 0.1);
  EXPECT_NEAR(one->temperature.value, other->temperature.value, 1e-12);
}

TEST(Mixing, AStreamWithoutAirOrWithImpossibleAirIsRefused) {
  const AirStream good{1, Celsius{20}, KilogramPerKilogram{0.008}};
  for (const double flow : {0.0, -1.0, kNan, kInfinity}) {
    EXPECT_FALSE(mix({flow, Celsius{20}, KilogramPerKilogram{0.008}}, good, kSeaLevel)) << flow;
    EXPECT_FALSE(mix(good, {flow, Celsius{20}, KilogramPerKilogram{0.008}}, kSeaLevel)) << flow;
  }
  EXPECT_FALSE(mix({1, Celsius{61}, KilogramPerKilogram{0.008}}, good, kSeaLevel));
  EXPECT_FALSE(mix({1, Celsius{20}, KilogramPerKilogram{-0.001}}, good, kSeaLevel));
  EXPECT_FALSE(mix(good, good, Kilopascal{kNan}));
}

}  // namespace
}  // namespace neap
