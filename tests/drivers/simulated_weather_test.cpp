// Weather made up and weather recorded, and what is refused.
#include <gmock/gmock.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <numbers>
#include <set>

#include "drivers/simulated/moist_air.h"
#include "drivers/simulated/weather.h"
#include "tests/drivers/simulated_grow.h"
#include "tests/drivers/temporary_folder.h"
#include "tests/places.h"

namespace neap::drivers {
namespace {

using namespace simulated;
using testing::HasSubstr;

constexpr std::string_view kThreeHours =
    "at,warmth,damp\n"
    "2013-03-05T00:00Z,10,50\n"
    "2013-03-05T01:00Z,12,60\n"
    "2013-03-05T02:00Z,,70\n"
    "2013-03-05T03:00Z,18,40\n";

struct Recorded {
  explicit Recorded(std::string_view text = kThreeHours) {
    folder.write("hours.csv", text);
    setup.weather = "csv";
    setup.weather_csv = folder / "hours.csv";
    setup.csv_time = "at";
    setup.csv_temperature = "warmth";
    setup.csv_humidity = "damp";
  }
  test::TemporaryFolder folder;
  SimulationSetup setup;
  std::string error;
};

std::string refusal(const SimulationSetup& setup) {
  std::string error;
  EXPECT_EQ(make_tent(setup, kGrowMidnight, 0, error), nullptr);
  return error;
}

TEST(SimulatedWeather, RecordedHoursAreJoinedByStraightLines) {
  Recorded r;
  const Record record = Record::read(r.setup, r.error);
  ASSERT_EQ(r.error, "");
  EXPECT_EQ(record.size(), 3U);
  EXPECT_DOUBLE_EQ(record.at(0).celsius, 10);
  EXPECT_DOUBLE_EQ(record.at(1800).celsius, 11);
  EXPECT_DOUBLE_EQ(record.at(1800).percent, 55);
}

TEST(SimulatedWeather, AGapIsBridged) {
  Recorded r;
  const Record record = Record::read(r.setup, r.error);
  EXPECT_DOUBLE_EQ(record.at(7200).celsius, 15);  // half way from 12 to 18
  EXPECT_DOUBLE_EQ(record.at(7200).percent, 50);
}

TEST(SimulatedWeather, TheRecordBeginsAgainAtItsEnd) {
  Recorded r;
  const Record record = Record::read(r.setup, r.error);
  EXPECT_DOUBLE_EQ(record.at(3 * 3600 + 1800).celsius, 11);
  EXPECT_DOUBLE_EQ(record.at(300 * 3600 + 1800).celsius, 11);
}

TEST(SimulatedWeather, TheFirstRowToUseCanBeChosen) {
  Recorded r;
  r.setup.csv_start = "2013-03-05T01:00";
  const Record record = Record::read(r.setup, r.error);
  ASSERT_EQ(r.error, "");
  EXPECT_DOUBLE_EQ(record.at(0).celsius, 12);
  EXPECT_DOUBLE_EQ(record.at(2 * 3600 + 1800).celsius, 11);
}

TEST(SimulatedWeather, CivilTimesAreReadStrictly) {
  EXPECT_EQ(civil_seconds("1970-01-02 00:00"), 86400);
  EXPECT_EQ(civil_seconds("2013-01-01T06:00Z"), 1357020000);
  EXPECT_EQ(civil_seconds("2016-02-29 23:59:59"), 1456790399);
  for (const char* wrong :
       {"", "2013-02-29 00:00", "2013-13-01 00:00", "2013-01-01", "2013-01-01T24:00",
        "2013-01-01T06:00+01", "13-01-01 06:00", "2013-01-01T06:0"})
    EXPECT_FALSE(civil_seconds(wrong)) << wrong;
}

TEST(SimulatedWeather, ARecordedRoomIsTheRoomAndIsNotChangedByTheTent) {
  Recorded r;
  r.setup.csv_is_room = true;
  Grow grow(r.setup);
  grow.set(Output::exhaust_fan, 1000);
  grow.set(Output::light, 1000);
  const double water = grow.truth().water_balance_kg;
  grow.run(minutes{30} + seconds{1});
  EXPECT_NEAR(grow.truth().room_c, 11, 0.01);
  EXPECT_NEAR(grow.truth().room_w, humidity_ratio(0.55 * saturation_kpa(11)), 1e-5);
  EXPECT_GT(grow.truth().ledger.transpired_kg, 0.01);
  EXPECT_NEAR(grow.truth().water_balance_kg, water, 1e-9);
}

TEST(SimulatedWeather, RecordedWeatherOutdoorsLeavesTheBuildingHeated) {
  Recorded r;
  r.setup.parameters = {{"building_c", 20}};
  const Parameters p = parameters_from(r.setup.parameters, r.error);
  const Weather weather = Weather::make(r.setup, p, 0, r.error);
  ASSERT_EQ(r.error, "");
  const Surroundings around = weather.at(0);
  EXPECT_DOUBLE_EQ(around.outdoor_c, 10);
  EXPECT_DOUBLE_EQ(around.building_c, 20);
  EXPECT_GT(around.building_w, humidity_ratio(around.outdoor_kpa));
}

TEST(SimulatedWeather, MadeUpWeatherIsWarmInTheAfternoonAndTheSameForASeed) {
  SimulationSetup setup;
  std::string error;
  const Parameters p = parameters_from({{"building_noise_c", 0}, {"building_swing_c", 2}}, error);
  const Weather weather = Weather::make(setup, p, 86400 * 100, error);
  EXPECT_NEAR(weather.at(16 * 3600).building_c, 22, 1e-9);
  EXPECT_NEAR(weather.at(4 * 3600).building_c, 18, 1e-9);
  const Parameters noisy = parameters_from({{"building_noise_c", 1}}, error);
  const Weather one = Weather::make(setup, noisy, 0, error);
  setup.seed = 2;
  const Weather two = Weather::make(setup, noisy, 0, error);
  double square = 0;
  for (int hour = 0; hour < 24 * 300; hour += 6) {
    const double with_noise = one.at(hour * 3600.0).building_c;
    EXPECT_EQ(with_noise, one.at(hour * 3600.0).building_c);
    EXPECT_NE(with_noise, two.at(hour * 3600.0).building_c);
    const double swing = 1.5 * std::cos(2 * std::numbers::pi * (hour % 24 - 16) / 24.0);
    square += std::pow(with_noise - 20 - swing, 2) / (24.0 * 300 / 6);
  }
  EXPECT_NEAR(std::sqrt(square), 0.95, 0.1);  // at the knots: sqrt(0.9^2 + 0.3^2)
}

TEST(SimulatedWeather, AYearOfMeasuredHoursIsReadWhole) {
  const char* folder = std::getenv("NEAP_REFERENCE");
  const std::filesystem::path path =
      std::filesystem::path(folder ? folder : places::in_project("../shared/reference")) /
      "nyc_lga_2013_hourly.csv";
  if (!std::filesystem::exists(path)) GTEST_SKIP() << "no reference data";
  SimulationSetup setup;
  setup.weather = "csv";
  setup.weather_csv = path;
  setup.csv_time = "time_utc";
  setup.csv_temperature = "T_C";
  setup.csv_humidity = "RH_pct";
  setup.csv_start = "2013-01-01T07:00";
  std::string error;
  const Record record = Record::read(setup, error);
  ASSERT_EQ(error, "");
  EXPECT_GT(record.size(), 8600U);
  EXPECT_DOUBLE_EQ(record.at(0).celsius, 5.0);
  EXPECT_DOUBLE_EQ(record.at(0).percent, 54.97);
}

TEST(SimulatedWeather, WhatCannotBeReadIsRefusedWithPlaceAndRemedy) {
  Recorded r;
  SimulationSetup missing = r.setup;
  missing.weather_csv = r.folder / "nowhere.csv";
  EXPECT_THAT(
      refusal(missing),
      HasSubstr("nowhere.csv: cannot be read; give simulation.csv.path a readable CSV file"));
  SimulationSetup column = r.setup;
  column.csv_humidity = "wet";
  EXPECT_THAT(refusal(column), HasSubstr("hours.csv:1: no column 'wet' (simulation.csv.humidity)"));
  EXPECT_THAT(refusal(column), HasSubstr("at,warmth,damp"));
  SimulationSetup start = r.setup;
  start.csv_start = "2014-01-01T00:00";
  EXPECT_THAT(refusal(start), HasSubstr("simulation.csv.start: '2014-01-01T00:00'"));
  SimulationSetup kind = r.setup;
  kind.weather = "sunny";
  EXPECT_THAT(refusal(kind), HasSubstr("must be synthetic or csv"));
  Recorded empty("at,warmth,damp\n2013-03-05T00:00Z,x,50\n");
  EXPECT_THAT(refusal(empty.setup), HasSubstr("fewer than two rows"));
}

TEST(SimulatedParameters, TableIsSound) {
  std::set<std::string_view> names;
  for (const ParameterInfo& row : kParameters) {
    EXPECT_TRUE(names.insert(row.name).second) << row.name;
    EXPECT_LE(row.lowest, row.fallback) << row.name;
    EXPECT_GE(row.highest, row.fallback) << row.name;
    EXPECT_FALSE(row.what.empty() || row.source.empty()) << row.name;
  }
  // One row a member: no two rows write the same double, and none is left out.
  EXPECT_EQ(sizeof(Parameters), kParameters.size() * sizeof(double));
  for (const ParameterInfo& a : kParameters) {
    Parameters p{};
    p.*a.member = 1;
    for (const ParameterInfo& b : kParameters) EXPECT_EQ(p.*b.member == 1, a.name == b.name);
  }
}

TEST(SimulatedParameters, EachExtremeAloneMakesATentThatStaysPhysical) {
  for (const ParameterInfo& row : kParameters) {
    for (const double value : {row.lowest, row.highest}) {
      SimulationSetup setup;
      setup.parameters[std::string(row.name)] = value;
      std::string error;
      const auto tent = make_tent(setup, kGrowMidnight, 0, error);
      if (tent == nullptr) {
        EXPECT_THAT(error, HasSubstr("simulation.parameters: "));
        continue;  // contradicts the other defaults, and says so
      }
      Grow grow(setup);
      for (const Output o : {Output::pump, Output::light, Output::dehumidifier}) grow.set(o, 1000);
      grow.run(hours{3});
      const Truth t = grow.truth();
      const std::string at = std::string(row.name) + " " + std::to_string(value);
      EXPECT_TRUE(t.air_c > -20 && t.air_c < 70) << at << " " << t.air_c;
      EXPECT_TRUE(t.air_percent > 0 && t.air_percent < 106) << at << " " << t.air_percent;
      EXPECT_GE(t.reservoir_l, 0) << at;
      EXPECT_GE(t.medium_l, 0) << at;
      EXPECT_GE(t.tray_l, 0) << at;
      EXPECT_GE(t.ec, 0) << at;
    }
  }
}

TEST(SimulatedParameters, AreRefusedWithNameValueAndRule) {
  const auto with = [](std::string name, double value) {
    SimulationSetup setup;
    setup.parameters[std::move(name)] = value;
    return refusal(setup);
  };
  EXPECT_EQ(with("light_w", 5000), "simulation.parameters: light_w is 5000; must be 10 to 1000 W");
  EXPECT_THAT(with("light_watts", 150), HasSubstr("no parameter 'light_watts'"));
  EXPECT_THAT(with("light_w", std::nan("")), HasSubstr("light_w is nan"));
  EXPECT_THAT(
      with("standpipe_height_mm", 40),
      HasSubstr("tray_full_mm is 56 and standpipe_height_mm is 40; the first must be less"));
  EXPECT_THAT(with("reservoir_start_l", 61), HasSubstr("more than reservoir_capacity_l 60"));
  EXPECT_THAT(with("drain_path", 0.5), HasSubstr("a whole number"));
  SimulationSetup stiff;
  stiff.parameters = {{"tent_volume_m3", 0.3}, {"wall_area_m2", 40}};
  EXPECT_THAT(refusal(stiff), HasSubstr("tent_volume_m3 is 0.3; too little air"));
  SimulationSetup faulty;
  faulty.faults = {{"gremlin", minutes{1}, {}, 1}};
  EXPECT_THAT(refusal(faulty), HasSubstr("simulation.faults: the simulated tent has no fault"));
  faulty.faults = {{"leak", -minutes{1}, {}, 1}};
  EXPECT_THAT(refusal(faulty), HasSubstr("less than 0 s"));
}

}  // namespace
}  // namespace neap::drivers
