// Ours beside tables computed by libraries that share neither code nor saturation formula with us.
// Tolerances are the measured differences (FAO-56 against Hyland-Wexler and IAPWS-95 over 5..40 C,
// 20..100 %) with a small margin.
#include <gtest/gtest.h>

#include "daemon/core/psychrometrics.h"
#include "tests/places.h"
#include "tests/reference/csv.h"
#include "tests/reference/outside.h"

namespace neap::reference {
namespace {

struct Tolerances {
  double saturation_percent;
  double ratio_percent;  // humidity ratio, vapour density
  double enthalpy;       // kJ/kg
};
constexpr Tolerances kIdealGas{0.12, 0.13, 0.2};
constexpr Tolerances kRealGas{0.14, 0.8, 1.0};
constexpr double kVpdTolerance = 0.008;  // kPa
constexpr double kDewTolerance = 0.02;   // K

// One state of a table in the columns that psychrolib_table.csv and oracle.csv share.
void compare_state(const Csv& table, std::size_t i, const Tolerances& allowed,
                   std::string_view source) {
  const Celsius air{table.number(i, "T_C")};
  const PercentRh rh{table.number(i, "RH_pct")};
  const Kilopascal p{table.number(i, "p_kPa")};
  const auto w = humidity_ratio(air, rh, p).value();
  expect_within_percent(saturation_pressure(air)->value, table.number(i, "es_kPa"),
                        allowed.saturation_percent, source);
  expect_within_percent(vapour_pressure(air, rh)->value, table.number(i, "ea_kPa"),
                        allowed.saturation_percent, source);
  expect_within(air_vpd(air, rh)->value, table.number(i, "vpd_kPa"), kVpdTolerance, source);
  if (table.text(i, "dew_phase") == "dew")
    expect_within(dew_point(air, rh)->value, table.number(i, "dewpoint_C"), kDewTolerance, source);
  expect_within_percent(w.value, table.number(i, "humidity_ratio_kg_kg"), allowed.ratio_percent,
                        source);
  expect_within(enthalpy(air, w).value, table.number(i, "enthalpy_kJ_kg"), allowed.enthalpy,
                source);
  expect_within_percent(vapour_density(air, rh)->value, table.number(i, "abs_humidity_g_m3"),
                        allowed.ratio_percent, source);
}

const Csv& committed() {
  static const Csv table{places::in_project("tests/reference/psychrolib_table.csv")};
  return table;
}

TEST(PsychrolibTable, EveryStateAgreesAndAloneSufficesForTheCount) {
  const int before = outside_values_checked();
  for (std::size_t i = 0; i < committed().size(); ++i)
    compare_state(committed(), i, kIdealGas, "psychrolib 1.1.1");
  EXPECT_EQ(committed().size(), 270U);
  EXPECT_GE(outside_values_checked() - before, 500);
}

TEST(PsychrolibTable, ALeafTwoKelvinColderHasTheSameDeficitAsTheirs) {
  for (std::size_t i = 0; i < committed().size(); ++i) {
    const Celsius air{committed().number(i, "T_C")};
    const PercentRh rh{committed().number(i, "RH_pct")};
    expect_within(leaf_vpd(air, rh, air - Celsius{2})->value, committed().number(i, "leaf_vpd_kPa"),
                  kVpdTolerance, "psychrolib 1.1.1, leaf");
  }
}

// Divided by vapour pressure the two saturation formulas cancel, and the constants of the mass
// ratio and of the gas law stand alone: the tolerances are those of the printed digits.
TEST(PsychrolibTable, MassAndVapourPressureStandInTheSameRatioAsTheirs) {
  for (std::size_t i = 0; i < committed().size(); ++i) {
    const Celsius air{committed().number(i, "T_C")};
    const PercentRh rh{committed().number(i, "RH_pct")};
    const double their_ea = committed().number(i, "ea_kPa");
    const auto from_ratio = relative_humidity_at(
        air, KilogramPerKilogram{committed().number(i, "humidity_ratio_kg_kg")},
        Kilopascal{committed().number(i, "p_kPa")});
    expect_within_percent(*from_ratio / 100 * saturation_pressure(air)->value, their_ea, 0.001,
                          "psychrolib 1.1.1, ea from W");
    expect_within_percent(vapour_density(air, rh)->value / vapour_pressure(air, rh)->value,
                          committed().number(i, "abs_humidity_g_m3") / their_ea, 0.002,
                          "psychrolib 1.1.1, vapour density by pressure");
  }
}

// Sharper than any tolerance: the formula of FAO-56 lies below Hyland-Wexler everywhere here, so a
// constant off by a few hundredths of a percent upwards is found.
TEST(PsychrolibTable, OurSaturationPressureIsBelowTheirsEverywhere) {
  for (std::size_t i = 0; i < committed().size(); ++i) {
    const Celsius air{committed().number(i, "T_C")};
    EXPECT_LT(saturation_pressure(air)->value, committed().number(i, "es_kPa"))
        << air.value << " C";
  }
}

TEST(Oracle, BothLibrariesAgreeWithOursWithinTheirOwnTolerances) {
  if (shared_folder().empty()) GTEST_SKIP() << "shared reference data absent (NEAP_REFERENCE)";
  const Csv table{shared_folder() + "/oracle.csv"};
  EXPECT_EQ(table.size(), 540U);
  std::size_t real_gas = 0;
  for (std::size_t i = 0; i < table.size(); ++i) {
    const std::string& source = table.text(i, "source");
    const bool ideal = source.rfind("psychrolib", 0) == 0;
    if (!ideal) ++real_gas;
    compare_state(table, i, ideal ? kIdealGas : kRealGas, source);
  }
  EXPECT_EQ(real_gas, 270U);
}

}  // namespace
}  // namespace neap::reference
