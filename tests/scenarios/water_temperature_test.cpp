// Goal: the water of the whole tent is held in its band in a cold and in a hot room, and the heater
// is off whenever the level does not cover it. Method: the demo with heater and chiller of 150 W,
// the real daemon, the simulated tent's own truth.
#include <gtest/gtest.h>

#include "tests/scenarios/grow.h"

namespace neap::scenarios {
namespace {

std::string tempered_demo(const std::string& room_c, const Edits& more = {}) {
  Edits edits{{"  air_pump:\n    driver: simulated\n",
               "  air_pump:\n    driver: simulated\n"
               "  water_heater:\n    driver: simulated\n"
               "  water_chiller:\n    driver: simulated\n"},
              {"    leaf_area_index: 2.5\n",
               "    leaf_area_index: 2.5\n"
               "    building_c: " +
                   room_c + "\n    water_heater_w: 150\n    water_chiller_w: 150\n"}};
  for (int stage = 0; stage < 4; ++stage)
    edits.push_back({"      water: 15..24 C", "      water: 18..21 C"});
  edits.insert(edits.end(), more.begin(), more.end());
  return quiet_demo(edits);
}

// The water's lowest and highest over a span, and whether both devices ever ran at once.
struct Course {
  double lowest = 99;
  double highest = 0;
  bool both = false;
};
Course course(Grow& grow, Millis span) {
  Course seen;
  for (const Millis end = grow.elapsed() + span; grow.elapsed() < end; grow.run_for(seconds{20})) {
    const double water = grow.truth().reservoir_c;
    seen.lowest = std::min(seen.lowest, water);
    seen.highest = std::max(seen.highest, water);
    seen.both |=
        grow.level(Output::water_heater) > kStopped && grow.level(Output::water_chiller) > kStopped;
  }
  return seen;
}

TEST(WaterTemperature, InAColdRoomItIsHeldAboveTheLowEdgeThroughFloods) {
  Grow grow(tempered_demo("9"));
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(hours{12});
  ASSERT_GT(grow.truth().ledger.heater_j, 1e5);
  const Course seen = course(grow, hours{36});
  EXPECT_GT(seen.lowest, 17.0) << "a flood brings back colder water";
  EXPECT_LT(seen.highest, 19.2);
  EXPECT_FALSE(seen.both);
  EXPECT_FALSE(grow.alarm_stands(Alarm::water_far_off));
  EXPECT_FALSE(grow.alarm_stands(Alarm::water_too_hot));
}

TEST(WaterTemperature, InAHotRoomItIsHeldUnderTheHighEdge) {
  Grow grow(tempered_demo("26"));
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(hours{12});
  ASSERT_GT(grow.truth().ledger.chiller_j, 1e5);
  const Course seen = course(grow, hours{36});
  EXPECT_GT(seen.lowest, 20.0);
  EXPECT_LT(seen.highest, 22.0);
  EXPECT_FALSE(seen.both);
}

TEST(WaterTemperature, AFloodThatUncoversTheHeaterStopsItUntilTheWaterIsBack) {
  Grow grow(tempered_demo("9", {{"programme:\n", "water: {covered_at: 38 L}\n\nprogramme:\n"}}));
  ASSERT_EQ(grow.problem(), "");
  int uncovered_s = 0;
  int since_low_s = 0;
  bool ran_before = false;
  for (int second = 0; second < 4 * 3600; ++second) {
    grow.run_for(seconds{1});
    const bool low = grow.truth().reservoir_l < 37;  // under any noise of the level's sensor
    since_low_s = low ? since_low_s + 1 : 0;
    uncovered_s += low ? 1 : 0;
    const bool runs = grow.level(Output::water_heater) > kStopped;
    ran_before |= runs && uncovered_s == 0;
    // Read every 10 s; a filter of the probe and a litre of margin come before.
    ASSERT_FALSE(runs && since_low_s > 20) << second;
  }
  EXPECT_TRUE(ran_before);
  EXPECT_GT(uncovered_s, 60);
  EXPECT_TRUE(
      grow.run_until([&] { return grow.level(Output::water_heater) > kStopped; }, hours{2}));
}

}  // namespace
}  // namespace neap::scenarios
