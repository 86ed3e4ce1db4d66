// Worked examples and table rows that were printed by others. Each group names its source; values
// are given as printed and the tolerance is the printed precision or the measured distance of
// FAO-56 from that source's better formula.
#include <gtest/gtest.h>

#include "daemon/core/oxygen.h"
#include "daemon/core/psychrometrics.h"
#include "tests/reference/outside.h"

namespace neap::reference {
namespace {

struct At {
  double t;  // degC
  double value;
};

constexpr Kilopascal kSeaLevel{101.325};

double es(double t) { return saturation_pressure(Celsius{t})->value; }
double ea(double t, double rh) { return vapour_pressure(Celsius{t}, PercentRh{rh})->value; }
// Saturated humidity ratio.
double ws(double t, Kilopascal p) { return humidity_ratio(Celsius{t}, PercentRh{100}, p)->value; }
double hs(double t) { return enthalpy(Celsius{t}, KilogramPerKilogram{ws(t, kSeaLevel)}).value; }
// Humidity of a psychrometer's reading.
PercentRh psychrometer(double dry, double wet, Kilopascal p) {
  const auto pressure = vapour_pressure_from_wet_bulb(Celsius{dry}, Celsius{wet}, p);
  return PercentRh{100 * pressure->value / es(dry)};
}

// Oxygen in fresh water at 101.325 kPa as APHA and EN 25814 table it.
TEST(Oxygen, SaturationAsTabled) {
  const char* source = "APHA 1985, EN 25814";
  for (const At row : {At{15, 10.08}, {18, 9.47}, {20, 9.09}, {25, 8.26}, {30, 7.56}})
    expect_within(*oxygen_saturation_mg_per_l(Celsius{row.t}), row.value, 0.01, source);
}

// FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes, Smith 1998), chapter 3, as carried by
// the test suites of PyETo and pyet, which cite page and example.
constexpr std::string_view kFao = "FAO-56 chapter 3";

TEST(Fao56, Example3MeanSaturationPressureIsTheMeanOfThePressures) {
  expect_within(es(24.5), 3.075, 0.0005, kFao);
  expect_within(es(15), 1.705, 0.0005, kFao);
  expect_within((es(24.5) + es(15)) / 2, 2.39, 0.005, kFao);
  expect_within(es(19.75), 2.30, 0.005, kFao);  // lower: never average temperatures first
}

TEST(Fao56, Example4PsychrometerWithTheVentilatedCoefficient) {
  expect_within(es(19.5), 2.267, 0.0005, kFao);
  const auto pressure =
      vapour_pressure_from_wet_bulb(Celsius{25.6}, Celsius{19.5}, Kilopascal{87.9});
  expect_within(pressure->value, 1.91, 0.005, kFao);
}

TEST(Fao56, Examples5And6ActualPressureAndDeficitFromRelativeHumidity) {
  expect_within(es(18), 2.064, 0.0005, kFao);
  expect_within(es(25), 3.168, 0.0005, kFao);
  const double actual = (ea(18, 82) + ea(25, 54)) / 2;
  expect_within(actual, 1.70, 0.005, kFao);
  expect_within((ea(18, 68) + ea(25, 68)) / 2, 1.78, 0.005, kFao);
  const double deficit =
      (air_vpd(Celsius{18}, PercentRh{82})->value + air_vpd(Celsius{25}, PercentRh{54})->value) / 2;
  expect_within(deficit, 0.91, 0.005, kFao);
}

TEST(Fao56, Examples17And18SlopeOfTheCurveAnd20DewPoint) {
  expect_within(*saturation_slope(Celsius{30.2}), 0.246, 0.0005, kFao);
  expect_within(*saturation_slope(Celsius{16.9}), 0.122, 0.0005, kFao);
  expect_within(es(14.8), 1.68, 0.005, kFao);
}

// FAO-56 eq. 7 is a rounder atmosphere than ASHRAE's: 0.4 % apart at 1800 m.
TEST(Fao56, Examples2And4PressureAtAltitudeWithinTheTwoFormulasDistance) {
  expect_within_percent(pressure_at_altitude(1800)->value, 81.8, 0.5, kFao);
  expect_within_percent(pressure_at_altitude(1200)->value, 87.9, 0.5, kFao);
}

// Annex 2 Table 2.3, the rows that the examples and a public test file quote.
TEST(Fao56, Table23) {
  constexpr At kRows[] = {{15, 1.705},   {18, 2.064}, {19.5, 2.267}, {20, 2.338},
                          {24.5, 3.075}, {25, 3.168}, {30, 4.243}};
  for (const At& row : kRows) expect_within(es(row.t), row.value, 0.0006, "FAO-56 Table 2.3");
}

// A program of others that follows FAO-56 (NCL 6.6.2): its pressures to six digits, in single
// precision.
TEST(Fao56, NclComputesTheSamePressureAndSlope) {
  constexpr At kPressure[] = {{0.02, .61169}, {5, .872311},  {10, 1.22796}, {15, 1.70535},
                              {20, 2.33828},  {25, 3.16778}, {30, 4.24307}, {35, 5.62268},
                              {40, 7.37562},  {45, 9.58248}};
  for (const At& row : kPressure) expect_within(es(row.t), row.value, 1e-5, "NCL 6.6.2");
  constexpr At kSlope[] = {{1, .047368}, {10, .0822426}, {20, .14467},
                           {25, .18859}, {30, .243244},  {40, .392879}};
  // Their slopes stand to ours as 4096 to 4098: their constant, not that of eq. 13.
  for (const At& row : kSlope)
    expect_within_percent(*saturation_slope(Celsius{row.t}) * 4096 / 4098, row.value, 0.001, "NCL");
  expect_within((ea(18, 82) + ea(25, 54)) / 2, 1.70154, 6e-6, "NCL 6.6.2");
  expect_within((ea(18, 68) + ea(25, 68)) / 2, 1.7788, 6e-5, "NCL 6.6.2");
}

// CRC Handbook of Chemistry and Physics, vapour pressure of water (1992-93 and 77th ed. p. 6-13).
// The row of 38 C is a misprint by 0.1 % in that table and is left out.
TEST(CrcHandbook, VapourPressureOfWaterWithinATenthOfAPercent) {
  constexpr At kRows[] = {{0, .61129},  {5, .87260},  {10, 1.2281}, {15, 1.7056}, {18, 2.0644},
                          {20, 2.3388}, {22, 2.6447}, {24, 2.9850}, {25, 3.1690}, {26, 3.3629},
                          {28, 3.7818}, {30, 4.2455}, {32, 4.7578}, {35, 5.6267}, {40, 7.3814},
                          {45, 9.5895}, {50, 12.344}};
  for (const At& row : kRows) expect_within_percent(es(row.t), row.value, 0.1, "CRC Handbook");
}

// IAPWS-95 (Wagner and Pruss 2002), evaluated with python3-iapws 1.5.3; triple point 611.657 Pa.
TEST(Iapws, FormulaWithinItsStatedBound) {
  constexpr At kRows[] = {{0.01, .611657}, {5, .872575},   {10, 1.228199}, {15, 1.705793},
                          {20, 2.339318},  {25, 3.169929}, {30, 4.246971}, {35, 5.629016},
                          {40, 7.384938},  {45, 9.594999}};
  for (const At& row : kRows) expect_within_percent(es(row.t), row.value, 0.132, "IAPWS-95");
}

// WMO-No. 8 Annex 4.B: ew = 6.112 exp(17.62 t / (243.12 + t)) hPa, itself 0.3 % low.
TEST(Wmo, SaturationPressureWithinTheDistanceOfTheFormulas) {
  expect_within_percent(10 * es(20), 23.326, 0.3, "WMO-No. 8");
  expect_within_percent(10 * es(25), 31.601, 0.3, "WMO-No. 8");
}

// Constants of Alduchov and Eskridge as used by Lawrence, BAMS 86 (2005) 225-233.
TEST(Lawrence2005, DewPoint) {
  struct State {
    double t, rh, dew;
  };
  constexpr State kRows[] = {{25, 60, 16.70}, {24, 70, 18.19}, {22, 85, 19.36}, {20, 90, 18.31}};
  for (const State& row : kRows)
    expect_within(dew_point(Celsius{row.t}, PercentRh{row.rh})->value, row.dew, 0.02,
                  "Lawrence 2005");
}

// ASHRAE Handbook Fundamentals 2017 ch. 1, as quoted in psychrolib's own tests; 20 C from the 2005
// edition ch. 6. Table 2 is for real air: ideal gases are 0.5 % low in W, 0.3 % in h.
constexpr std::string_view kAshrae = "ASHRAE Fundamentals 2017 ch. 1";

TEST(Ashrae, Table3SaturationPressure) {
  constexpr At kRows[] = {{5, .8726}, {25, 3.1697}, {50, 12.3513}};
  for (const At& row : kRows) expect_within_percent(es(row.t), row.value, 0.13, kAshrae);
}

TEST(Ashrae, Table2SaturatedAirWithinTheIdealGasError) {
  constexpr At kRatio[] = {{5, .005425}, {20, .014758}, {25, .020173}};
  for (const At& row : kRatio) expect_within_percent(ws(row.t, kSeaLevel), row.value, 0.6, kAshrae);
  constexpr At kHeat[] = {{5, 18.639}, {20, 57.555}, {25, 76.504}};
  for (const At& row : kHeat) expect_within_percent(hs(row.t), row.value, 0.4, kAshrae);
}

TEST(Ashrae, EnthalpyOfDryAndMoistAir) {
  expect_within_percent(enthalpy(Celsius{25}, KilogramPerKilogram{0}).value, 25.148, 0.03, kAshrae);
  expect_within_percent(enthalpy(Celsius{30}, KilogramPerKilogram{.02}).value, 81.316, 0.03,
                        kAshrae);
  expect_within(temperature_at(KilojoulePerKilogram{81.316}, KilogramPerKilogram{.02}).value, 30,
                0.02, kAshrae);
}

TEST(Ashrae, HumidityRatioAt500Metres) {
  const Kilopascal p{95.461};
  expect_within_percent(ws(25, p), .0213603998, 0.1, kAshrae);
  const auto w = humidity_ratio(Celsius{30}, psychrometer(30, 25, p), p);
  expect_within_percent(w->value, .01922813, 0.5, kAshrae);
}

TEST(Ashrae, StandardAtmosphere) {
  constexpr At kRows[] = {{0, 101.325}, {500, 95.461}, {1000, 89.875}};
  for (const At& row : kRows)
    expect_within(pressure_at_altitude(row.t)->value, row.value, 0.001, kAshrae);
}

// Example 1 reads a chart: 40 C dry bulb, 20 C wet bulb. FAO's constant coefficient is 4 % low in W
// at so wide a depression.
TEST(Ashrae, Example1FromDryAndWetBulb) {
  const Celsius air{40};
  const PercentRh rh = psychrometer(40, 20, kSeaLevel);
  const auto w = humidity_ratio(air, rh, kSeaLevel);
  expect_within(rh.value, 14, 1, kAshrae);
  expect_within(dew_point(air, rh)->value, 7, 0.5, kAshrae);
  expect_within(w->value, .0065, 4e-4, kAshrae);
  expect_within(enthalpy(air, KilogramPerKilogram{.0065}).value, 56.7, 0.4, kAshrae);
}

// CoolProp 7.2.0 documentation, HAPropsSI examples: enthalpy of 25 C, 50 % and the saturation
// temperature at that enthalpy.
TEST(CoolProp, DocumentedEnthalpyWithinTheIdealGasError) {
  const auto w = humidity_ratio(Celsius{25}, PercentRh{50}, kSeaLevel);
  expect_within_percent(enthalpy(Celsius{25}, *w).value, 50.42345039, 0.3, "CoolProp 7.2.0");
  expect_within_percent(hs(290.962092 - 273.15), 50.42345039, 0.4, "CoolProp 7.2.0");
}

// The ASHRAE chart example of two air streams as solved in the manual of ChemicaLogic MoistAirTab:
// 4 C, wet bulb 2 C and 25 C, 50 %, with the mass flows as they print them.
TEST(Mixing, ChartExampleOfOutdoorAndReturnAir) {
  constexpr std::string_view kSource = "MoistAirTab example 2";
  const auto outdoor = humidity_ratio(Celsius{4}, psychrometer(4, 2, kSeaLevel), kSeaLevel);
  const auto indoor = humidity_ratio(Celsius{25}, PercentRh{50}, kSeaLevel);
  expect_within(outdoor->value, .0036, 1e-4, kSource);
  expect_within(indoor->value, .0099, 1e-4, kSource);
  expect_within(enthalpy(Celsius{4}, *outdoor).value, 12.97, 0.2, kSource);
  expect_within(enthalpy(Celsius{25}, *indoor).value, 50.42, 0.2, kSource);
  const auto mixed = mix({2.55, Celsius{4}, *outdoor}, {7.40, Celsius{25}, *indoor}, kSeaLevel);
  expect_within(mixed->temperature.value, 19.67, 0.15, kSource);
  expect_within(mixed->relative_humidity, 58, 1, kSource);
  expect_within(mixed->humidity_ratio.value, .0083, 1e-4, kSource);
  expect_within(enthalpy(mixed->temperature, mixed->humidity_ratio).value, 40.83, 0.3, kSource);
  EXPECT_FALSE(mixed->supersaturated);
}

// A textbook problem (physicsforums thread 367493): 20 m3/min of 5 C, 90 % and of 25 C, 50 % at
// 1 bar. Printed: water flows 2.0 and 3.8 g/s, mixture 7.36 g/kg.
TEST(Mixing, TextbookProblemOfTwoEqualVolumeFlows) {
  constexpr std::string_view kSource = "textbook problem, physicsforums 367493";
  const Kilopascal p{100};
  const auto stream = [p, kSource](Celsius t, PercentRh rh, double water_g_s) {
    const double water = vapour_density(t, rh)->value * 20 / 60;  // g/s
    expect_within(water, water_g_s, 0.05, kSource);
    const auto w = humidity_ratio(t, rh, p).value();
    return AirStream{water / 1000 / w.value, t, w};
  };
  const auto mixed =
      mix(stream(Celsius{5}, PercentRh{90}, 2.0), stream(Celsius{25}, PercentRh{50}, 3.8), p);
  expect_within(mixed->humidity_ratio.value, 7.36e-3, 2e-5, kSource);
}

}  // namespace
}  // namespace neap::reference
