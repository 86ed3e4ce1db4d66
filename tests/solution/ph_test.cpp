#include "daemon/solution/ph.h"

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

// United States Pharmacopeia <791>: slope 59.16 + 0.198 (t - 25) mV, as instrument makers quote it.
TEST(NernstSlope, IsThePharmacopoeias) {
  for (const Row row : {Row{0, 54.21},
                        {10, 56.19},
                        {15, 57.18},
                        {20, 58.17},
                        {25, 59.16},
                        {30, 60.15},
                        {35, 61.14}})
    EXPECT_NEAR(nernst_slope_mv(Celsius{row.at}), row.value, 0.015) << row.at;
}

// Hetzer, Durst, Robinson and Bates 1977, J. Res. NBS 81A: 4.006 at 25 C and 4.031 at 40 C.
TEST(Buffers, PhthalateIsTheBureauOfStandards) {
  EXPECT_NEAR(*buffer_ph(Buffer::phthalate_4_01, Celsius{25}), 4.006, 0.001);
  EXPECT_NEAR(*buffer_ph(Buffer::phthalate_4_01, Celsius{40}), 4.031, 0.001);
}

// An equation of one laboratory and the rounded table of an instrument's maker (process pH manual
// MI 611-211, table 8, '4.01 pH') know nothing of each other: 4.00 from 0 to 10 C.
TEST(Buffers, TheEquationAgreesWithAnInstrumentsTable) {
  for (const Row row : {Row{5, 4.00}, {10, 4.00}})
    EXPECT_NEAR(*buffer_ph(Buffer::phthalate_4_01, Celsius{row.at}), row.value, 0.006) << row.at;
}

// MI 611-211, tables 7 (technical) and 8 (primary), rounded to 0.01 there.
TEST(Buffers, AreWorthWhatTheTablesSay) {
  const auto at = [](Buffer buffer, double t) { return *buffer_ph(buffer, Celsius{t}); };
  EXPECT_NEAR(at(Buffer::technical_7_00, 15), 7.04, 0.001);
  EXPECT_NEAR(at(Buffer::technical_7_00, 20), 7.02, 0.001);
  EXPECT_NEAR(at(Buffer::technical_10_01, 20), 10.06, 0.001);
  EXPECT_NEAR(at(Buffer::phosphate_6_86, 5), 6.95, 0.006);
  EXPECT_NEAR(at(Buffer::phosphate_6_86, 10), 6.92, 0.006);
  EXPECT_NEAR(at(Buffer::borax_9_18, 0), 9.46, 0.006);
  EXPECT_NEAR(at(Buffer::borax_9_18, 10), 9.33, 0.006);
}

TEST(Buffers, LieBetweenTheirRowsAndNowhereElse) {
  EXPECT_NEAR(*buffer_ph(Buffer::technical_7_00, Celsius{17.5}), 7.03, 1e-9);
  EXPECT_NEAR(*buffer_ph(Buffer::technical_10_01, Celsius{40}), 9.89, 1e-9);
  EXPECT_FALSE(buffer_ph(Buffer::technical_7_00, Celsius{40.1}));
  EXPECT_FALSE(buffer_ph(Buffer::phthalate_4_01, Celsius{-0.1}));
  EXPECT_FALSE(buffer_ph(Buffer::technical_7_00, Celsius{std::nan("")}));
}

TEST(Buffers, AreFoundByWhatPeopleCallThem) {
  EXPECT_EQ(find_buffer(4), Buffer::technical_4_00);
  EXPECT_EQ(find_buffer(4.01), Buffer::phthalate_4_01);
  EXPECT_EQ(find_buffer(6.86), Buffer::phosphate_6_86);
  EXPECT_EQ(find_buffer(7), Buffer::technical_7_00);
  EXPECT_EQ(find_buffer(9.18), Buffer::borax_9_18);
  EXPECT_EQ(find_buffer(10), Buffer::technical_10_01);
  EXPECT_EQ(find_buffer(10.01), Buffer::technical_10_01);
  EXPECT_FALSE(find_buffer(6.5));
  EXPECT_FALSE(find_buffer(7.4));
}

// An electrode of known slope and offset, in buffers of known worth.
PhPoint measure(double slope, double offset_mv, Buffer buffer, double t, double off_ph = 0) {
  const double ph = *buffer_ph(buffer, Celsius{t}) + off_ph;
  return {buffer, offset_mv + slope * nernst_slope_mv(Celsius{t}) * (7 - ph), Celsius{t}};
}

PhFault fault_of(const std::vector<PhPoint>& points) {
  const auto result = fit_ph(points);
  EXPECT_TRUE(std::holds_alternative<PhRefusal>(result));
  return std::get<PhRefusal>(result).fault;
}

TEST(PhFit, FindsAnElectrodeOutWhateverBuffersAndTemperatures) {
  for (const double slope : {0.86, 0.95, 1.0, 1.04})
    for (const double offset : {-55.0, -8.0, 0.0, 31.0})
      for (const double t : {6.0, 19.4, 33.0}) {
        const std::vector<PhPoint> points{measure(slope, offset, Buffer::technical_7_00, t),
                                          measure(slope, offset, Buffer::phthalate_4_01, t + 1.5)};
        const auto result = fit_ph(points);
        ASSERT_TRUE(std::holds_alternative<PhFit>(result)) << slope << ' ' << offset;
        const PhFit& fit = std::get<PhFit>(result);
        EXPECT_NEAR(fit.calibration.slope, slope, 1e-9);
        EXPECT_NEAR(fit.calibration.offset_mv, offset, 1e-9);
        EXPECT_EQ(fit.tired, slope < 0.92 || std::abs(offset) > 30);
        EXPECT_FALSE(fit.third_buffer);
      }
}

TEST(PhFit, WhatIsCalibratedAtOneTemperatureReadsTrueAtAnother) {
  const std::vector<PhPoint> points{measure(0.93, 12, Buffer::technical_7_00, 24),
                                    measure(0.93, 12, Buffer::technical_4_00, 24)};
  const PhFit fit = std::get<PhFit>(fit_ph(points));
  const double shown_mv = 12 + 0.93 * nernst_slope_mv(Celsius{17}) * (7 - 5.8);
  EXPECT_NEAR(ph_of(fit.calibration, shown_mv, Celsius{17}), 5.8, 1e-9);
  // The same through a circuit that makes a pH of it as if the water had 25 C.
  const double indicated = 7 - shown_mv / nernst_slope_mv(Celsius{25});
  EXPECT_NEAR(corrected_ph(fit.calibration, indicated, Celsius{25}, Celsius{17}), 5.8, 1e-9);
}

TEST(PhFit, AThirdBufferChecksTheLineAndDoesNotBendIt) {
  std::vector<PhPoint> points{measure(0.97, 5, Buffer::technical_10_01, 22, -0.08),
                              measure(0.97, 5, Buffer::technical_4_00, 22),
                              measure(0.97, 5, Buffer::technical_7_00, 22)};
  const PhFit fit = std::get<PhFit>(fit_ph(points));
  EXPECT_NEAR(fit.calibration.slope, 0.97, 1e-9);
  EXPECT_NEAR(*fit.third_buffer, -0.08, 1e-9);
  points[0] = measure(0.97, 5, Buffer::technical_10_01, 22, -0.25);
  EXPECT_EQ(fault_of(points), PhFault::third_disagrees);
}

TEST(PhFit, RefusesWhatIsNoCalibration) {
  const auto seven = measure(1, 0, Buffer::technical_7_00, 23);
  const auto four = measure(1, 0, Buffer::technical_4_00, 23);
  EXPECT_EQ(fault_of({seven}), PhFault::too_few);
  EXPECT_EQ(fault_of({seven, four, seven, four}), PhFault::too_many);
  EXPECT_EQ(fault_of({seven, measure(1, 0, Buffer::phosphate_6_86, 23)}), PhFault::too_close);
  EXPECT_EQ(fault_of({seven, seven}), PhFault::too_close);
  EXPECT_EQ(fault_of({seven, {Buffer::technical_4_00, 170, Celsius{55}}}), PhFault::no_table);
  EXPECT_EQ(fault_of({seven, {Buffer::technical_4_00, 1700, Celsius{23}}}), PhFault::no_reading);
  EXPECT_EQ(fault_of({seven, {Buffer::technical_4_00, std::nan(""), Celsius{23}}}),
            PhFault::no_reading);
}

TEST(PhFit, RefusesSwappedBuffersAndTellsThemFromADeadProbe) {
  const auto seven = measure(1, 0, Buffer::technical_7_00, 23);
  const auto four = measure(1, 0, Buffer::technical_4_00, 23);
  EXPECT_EQ(fault_of({{Buffer::technical_7_00, four.millivolts, Celsius{23}},
                      {Buffer::technical_4_00, seven.millivolts, Celsius{23}}}),
            PhFault::swapped);
  EXPECT_EQ(fault_of({measure(0.01, 20, Buffer::technical_7_00, 23),
                      measure(0.01, 20, Buffer::technical_4_00, 23)}),
            PhFault::dead);
  // 7 and 10 exchanged, 4 in its place.
  const auto ten = measure(1, 0, Buffer::technical_10_01, 23);
  EXPECT_EQ(fault_of({four,
                      {Buffer::technical_7_00, ten.millivolts, Celsius{23}},
                      {Buffer::technical_10_01, seven.millivolts, Celsius{23}}}),
            PhFault::swapped);
}

TEST(PhFit, RefusesSlopesAndOffsetsOfNoSoundElectrode) {
  const auto of = [](double slope, double offset) {
    return std::vector<PhPoint>{measure(slope, offset, Buffer::technical_7_00, 23),
                                measure(slope, offset, Buffer::technical_4_00, 23)};
  };
  EXPECT_EQ(fault_of(of(0.84, 0)), PhFault::worn);
  EXPECT_EQ(fault_of(of(1.06, 0)), PhFault::too_steep);
  EXPECT_EQ(fault_of(of(1, 61)), PhFault::offset);
  EXPECT_EQ(fault_of(of(1, -61)), PhFault::offset);
}

TEST(PhFit, EveryRefusalHasItsOwnWords) {
  std::set<std::string_view> keys;
  for (int i = 0; i <= static_cast<int>(PhFault::third_disagrees); ++i) {
    const PhFaultInfo& row = info(static_cast<PhFault>(i));
    EXPECT_EQ(static_cast<int>(row.fault), i);
    EXPECT_FALSE(row.what.empty());
    EXPECT_FALSE(row.remedy.empty());
    keys.insert(row.key);
  }
  EXPECT_EQ(keys.size(), 11u);
}

}  // namespace
}  // namespace neap::solution
