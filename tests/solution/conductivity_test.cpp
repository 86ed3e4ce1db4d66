#include "daemon/solution/conductivity.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <set>
#include <vector>

namespace neap::solution {
namespace {

struct Row {
  double at;  // C
  double value;
};

// Wu, Koch and Pratt 1991 by the CRC Handbook: the row at 18 C is not among those of our table.
TEST(Standards, PotassiumChlorideBetweenTheRowsIsNists) {
  EXPECT_NEAR(*standard_ec(Standard::kcl_0_01_per_kg, Celsius{18}), 1.21993, 0.0001);
}

// '1413' and '12.88' by the degree as another maker prints them (portable meter, conductivity
// versus temperature chart). It has 1548 at 30 C where ours has 1552: from 25 to 30 C the two
// makers differ by up to 0.3 %.
TEST(Standards, AgreeWithAnotherMakersChartByTheDegree) {
  for (const Row row : {Row{16, 1.173},
                        {17, 1.199},
                        {18, 1.225},
                        {19, 1.251},
                        {21, 1.305},
                        {22, 1.332},
                        {23, 1.359},
                        {24, 1.386}})
    EXPECT_NEAR(*standard_ec(Standard::kcl_0_01_per_l, Celsius{row.at}), row.value, 0.0015)
        << row.at;
  EXPECT_NEAR(*standard_ec(Standard::kcl_0_01_per_l, Celsius{28}) / 1.494, 1, 0.003);
  for (const Row row : {Row{16, 10.72},
                        {18, 11.19},
                        {22, 12.15},
                        {24, 12.64},
                        {26, 13.13},
                        {28, 13.62},
                        {30, 14.12}})
    EXPECT_NEAR(*standard_ec(Standard::kcl_0_1_per_l, Celsius{row.at}), row.value, 0.015) << row.at;
}

TEST(Standards, HaveNoValueOutsideTheirTables) {
  EXPECT_TRUE(standard_ec(Standard::kcl_0_01_per_kg, Celsius{0}));
  EXPECT_TRUE(standard_ec(Standard::kcl_0_01_per_kg, Celsius{35}));
  EXPECT_FALSE(standard_ec(Standard::kcl_0_01_per_kg, Celsius{35.1}));
  EXPECT_FALSE(standard_ec(Standard::kcl_0_01_per_l, Celsius{31}));
  EXPECT_FALSE(standard_ec(Standard::kcl_0_1_per_l, Celsius{4}));
  EXPECT_EQ(standard_ec(Standard::air, Celsius{60}), 0.0);
}

TEST(Standards, AreFoundByWhatTheBottleSays) {
  EXPECT_EQ(find_standard(1413), Standard::kcl_0_01_per_l);
  EXPECT_EQ(find_standard(1.413), Standard::kcl_0_01_per_l);
  EXPECT_EQ(find_standard(1408), Standard::kcl_0_01_per_kg);
  EXPECT_EQ(find_standard(12.88), Standard::kcl_0_1_per_l);
  EXPECT_EQ(find_standard(12880), Standard::kcl_0_1_per_l);
  EXPECT_EQ(find_standard(0), Standard::air);
  EXPECT_FALSE(find_standard(1500));
}

// NIST values by 1.91 and 2.0 %/K (1.91: a groundwater logger's manual; 2.0: 'most common').
TEST(Compensation, BringsNistsValuesNear1408) {
  EXPECT_NEAR(*ec_at_25(1141.45, Celsius{15}, 0.0191), 1411, 0.5);
  EXPECT_NEAR(*ec_at_25(1273.03, Celsius{20}, 0.020), 1414.5, 0.5);
  EXPECT_NEAR(*ec_at_25(1273.03, Celsius{20}, 0.0191), 1407.4, 0.5);
}

// The error that the header states for the coefficient which ships.
TEST(Compensation, TheErrorOfTheDefaultIsAsStated) {
  const auto error = [](double t) {
    return *compensation_error(Standard::kcl_0_01_per_kg, Celsius{t}, kCompensation);
  };
  EXPECT_NEAR(error(15), 0.013, 0.001);
  EXPECT_NEAR(error(20), 0.0045, 0.001);
  EXPECT_NEAR(error(30), -0.0016, 0.001);
}

TEST(Compensation, IsUndoneByItsInverseAndRefusesNonsense) {
  for (const double t : {3.0, 18.5, 25.0, 37.0})
    EXPECT_NEAR(*ec_at_25(ec_at(1.62, Celsius{t}, 0.021), Celsius{t}, 0.021), 1.62, 1e-12);
  EXPECT_FALSE(ec_at_25(1.5, Celsius{-20}, 0.020));
  EXPECT_FALSE(ec_at_25(1.5, Celsius{std::nan("")}, 0.020));
}

// What a cell with this gain and zero shows of a standard; `shown` says how.
EcPoint measure(const EcCalibration& cell, Standard standard, double t, const EcShown& shown) {
  double ec = *standard_ec(standard, Celsius{t});
  if (shown.compensated) ec = *ec_at_25(ec, Celsius{t}, shown.per_kelvin);
  return {standard, ec / cell.gain + cell.zero, Celsius{t}};
}

EcFault fault_of(const std::vector<EcPoint>& points, const EcShown& shown = {}) {
  const auto result = fit_ec(points, shown);
  EXPECT_TRUE(std::holds_alternative<EcRefusal>(result));
  return std::get<EcRefusal>(result).fault;
}

TEST(EcFit, FindsACellOutFromOneStandardOrTwo) {
  for (const bool compensated : {true, false})
    for (const double gain : {0.72, 0.98, 1.35})
      for (const double t : {16.0, 22.5, 29.0}) {
        const EcShown shown{compensated, 0.019};
        const std::vector<EcPoint> one{measure({gain, 0}, Standard::kcl_0_01_per_l, t, shown)};
        EXPECT_NEAR(std::get<EcCalibration>(fit_ec(one, shown)).gain, gain, 1e-9);
        const std::vector<EcPoint> two{measure({gain, 0.04}, Standard::kcl_0_1_per_l, t + 1, shown),
                                       measure({gain, 0.04}, Standard::kcl_0_01_per_l, t, shown)};
        const EcCalibration found = std::get<EcCalibration>(fit_ec(two, shown));
        EXPECT_NEAR(found.gain, gain, 1e-9);
        EXPECT_NEAR(found.zero, 0.04, 1e-9);
        EXPECT_NEAR(corrected_ec(found, 1.6 / gain + 0.04), 1.6, 1e-9);
      }
}

TEST(EcFit, ADryCellIsAStandardOfNothing) {
  const std::vector<EcPoint> points{measure({1.1, 0.03}, Standard::air, 21, {}),
                                    measure({1.1, 0.03}, Standard::kcl_0_01_per_l, 21, {})};
  const EcCalibration found = std::get<EcCalibration>(fit_ec(points, {}));
  EXPECT_NEAR(found.gain, 1.1, 1e-9);
  EXPECT_NEAR(found.zero, 0.03, 1e-9);
}

TEST(EcFit, RefusesWhatIsNoCalibration) {
  const EcPoint weak{Standard::kcl_0_01_per_l, 1.40, Celsius{24}};
  const EcPoint strong{Standard::kcl_0_1_per_l, 12.7, Celsius{24}};
  EXPECT_EQ(fault_of({}), EcFault::none_given);
  EXPECT_EQ(fault_of({{Standard::air, 0.01, Celsius{24}}}), EcFault::none_given);
  EXPECT_EQ(fault_of({{Standard::air, 0.01, Celsius{24}}, {Standard::air, 0.02, Celsius{24}}}),
            EcFault::none_given);
  EXPECT_EQ(fault_of({weak, strong, weak}), EcFault::too_many);
  EXPECT_EQ(fault_of({weak, weak}), EcFault::alike);
  EXPECT_EQ(fault_of({{Standard::kcl_0_01_per_l, 1.40, Celsius{48}}}), EcFault::no_table);
  EXPECT_EQ(fault_of({{Standard::kcl_0_01_per_l, 1413, Celsius{24}}}), EcFault::unit);
  EXPECT_EQ(fault_of({{Standard::kcl_0_01_per_l, -0.2, Celsius{24}}}), EcFault::no_reading);
  EXPECT_EQ(fault_of({{Standard::kcl_0_01_per_l, std::nan(""), Celsius{24}}}), EcFault::no_reading);
  EXPECT_EQ(fault_of({{Standard::kcl_0_01_per_l, 0.02, Celsius{24}}}), EcFault::dead);
  EXPECT_EQ(fault_of({{Standard::kcl_0_01_per_l, 12.9, Celsius{24}},
                      {Standard::kcl_0_1_per_l, 1.41, Celsius{24}}}),
            EcFault::swapped);
  EXPECT_EQ(fault_of({{Standard::kcl_0_01_per_l, 2.2, Celsius{24}}}), EcFault::gain);
  EXPECT_EQ(
      fault_of({{Standard::air, 0.3, Celsius{24}}, {Standard::kcl_0_01_per_l, 1.71, Celsius{24}}}),
      EcFault::zero);
}

TEST(EcFit, EveryRefusalHasItsOwnWords) {
  std::set<std::string_view> keys;
  for (int i = 0; i <= static_cast<int>(EcFault::zero); ++i) {
    const EcFaultInfo& row = info(static_cast<EcFault>(i));
    EXPECT_EQ(static_cast<int>(row.fault), i);
    EXPECT_FALSE(row.what.empty());
    EXPECT_FALSE(row.remedy.empty());
    keys.insert(row.key);
  }
  EXPECT_EQ(keys.size(), 10u);
}

}  // namespace
}  // namespace neap::solution
