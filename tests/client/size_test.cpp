// Goal: `neap size` tries the right sizes, judges them soundly and says so within 80 columns.
// Method: trials made by hand; runs of the real daemon are in tests/regressions.
#include "daemon/client/size.h"

#include <sys/stat.h>

#include <fstream>

#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client {
namespace {

using ::testing::AllOf;
using ::testing::HasSubstr;
using ::testing::Not;
using testing::Said;

const std::string kConfig = places::in_project("config/");

SizeTrial trial(DehumidifierPlace place, std::optional<double> litres, double in_band,
                double warm = 0) {
  return {{place, litres, 250.0, 150}, {in_band, in_band + 1, in_band - 2, 12, warm, 0.8}};
}
constexpr auto kTent = DehumidifierPlace::tent;
constexpr auto kRoom = DehumidifierPlace::room;

TEST(Sizes, OfADehumidifierGoFromNoneUpwardsTheTentBeforeTheRoom) {
  const auto sizes = sizes_of(SizeOf::dehumidifier, {kTent, 3.5, 250.0, 150});
  ASSERT_GE(sizes.size(), 6u);
  EXPECT_FALSE(sizes.front().drying_l_per_day);
  bool room = false;
  double before = 0;
  int now = 0;
  for (const Equipment& e : sizes) {
    EXPECT_EQ(e.mist_ml_per_h, 250.0);
    EXPECT_EQ(e.fan_m3_per_h, 150);
    if (!e.drying_l_per_day) continue;
    if (e.place == kRoom && !room) before = 0;
    EXPECT_FALSE(room && e.place == kTent);
    room = e.place == kRoom;
    EXPECT_GT(*e.drying_l_per_day, before);
    before = *e.drying_l_per_day;
    now += e.place == kTent && before == 3.5 ? 1 : 0;
  }
  EXPECT_TRUE(room);
  EXPECT_EQ(now, 1) << "what is fitted is tried too";
}

TEST(Sizes, ThatAreFittedAlreadyAreTriedOnce) {
  const auto with = sizes_of(SizeOf::fan, {kTent, 3.5, 250.0, 180});
  const auto also = sizes_of(SizeOf::fan, {kTent, 3.5, 250.0, 150});
  EXPECT_EQ(with.size() + 1, also.size());
  const auto none = sizes_of(SizeOf::dehumidifier, {kRoom, std::nullopt, 250.0, 150});
  EXPECT_FALSE(none[0].drying_l_per_day);
  EXPECT_TRUE(none[1].drying_l_per_day);
}

TEST(SmallestGood, IsTheFirstWithinAPointOfTheBest) {
  EXPECT_EQ(smallest_good({trial(kTent, {}, 70), trial(kTent, 0.5, 92.0), trial(kTent, 1, 93),
                           trial(kRoom, 8, 92.5)}),
            1u);
  EXPECT_EQ(smallest_good({trial(kTent, {}, 70), trial(kTent, 0.5, 91.8), trial(kTent, 1, 93)}),
            2u);
}

TEST(SmallestGood, IsNotOneThatLetsTheTentGetTooWarm) {
  EXPECT_EQ(smallest_good({trial(kTent, {}, 93, 2.0), trial(kTent, 1, 92.5, 0.1)}), 1u);
  EXPECT_EQ(smallest_good({trial(kTent, {}, 60, 0), trial(kTent, 1, 92.5, 3)}), 1u)
      << "none is both: the band decides";
}

TEST(Oversized, IsALargestInTheTentTwoPointsWorseThanTheBestThere) {
  const auto found = oversized(
      {trial(kTent, {}, 70), trial(kTent, 0.7, 93), trial(kTent, 8, 78), trial(kRoom, 8, 99)});
  ASSERT_TRUE(found);
  EXPECT_EQ(found->largest, 2u);
  EXPECT_EQ(found->best, 1u);
  EXPECT_FALSE(oversized({trial(kTent, 0.7, 93), trial(kTent, 8, 92)}));
  EXPECT_FALSE(oversized({trial(kTent, {}, 93), trial(kRoom, 4, 99), trial(kRoom, 8, 70)}));
}

SizeReport report() {
  SizeReport made{"box-room", "leafing", "rule", "2026-03-16T06:00", 2, {}};
  made.answers.push_back({SizeOf::dehumidifier,
                          {trial(kTent, {}, 72.2), trial(kTent, 0.7, 92.7), trial(kTent, 8, 77.8),
                           trial(kRoom, 12, 92.5)},
                          1});
  made.answers.push_back({SizeOf::fan, {trial(kTent, 0.7, 92.7, 1.25)}, 0});
  return made;
}

TEST(SizeReport, IsATableWithWhatFollowsFromIt) {
  EXPECT_EQ(render_size(report(), Look{}),
            R"(Sizes for box-room in its stage leafing, 2 d simulated from 2026-03-16T06:00
  after one to settle, under the law rule.

The dehumidifier, with humidifier of 250 mL/h, fan of 150 m3/h
                         in band %  day %  night %  starts/d  warm h/d  kWh/d
   none                       72.2   73.2     70.2        12       0.0   0.80
>  0.7 L/d in the tent        92.7   93.7     90.7        12       0.0   0.80
   8.0 L/d in the tent        77.8   78.8     75.8        12       0.0   0.80
   12.0 L/d in the room       92.5   93.5     90.5        12       0.0   0.80
The smallest within a point of the best: 0.7 L/d in the tent, 92.7 % in band. In
  the tent a larger one is worse: 8.0 L/d in the tent holds 77.8 %, 0.7 L/d in
  the tent 92.7 %, since each of its shortest runs overshoots the band.

The fan, with dehumidifier of 0.7 L/d in the tent, humidifier of 250 mL/h
             in band %  day %  night %  starts/d  warm h/d  kWh/d
>  150 m3/h       92.7   93.7     90.7        12       1.2   0.80
The smallest within a point of the best: 150 m3/h, 92.7 % in band.

Together: dehumidifier of 0.7 L/d in the tent, humidifier of 250 mL/h, fan of
  150 m3/h: 92.7 % in band.
)");
}

TEST(SizeReport, AsJsonHasTheSameFigures) {
  const nlohmann::json value = size_json(report());
  EXPECT_EQ(value["answers"][0]["of"], "dehumidifier");
  EXPECT_EQ(value["answers"][0]["chosen"], 1);
  EXPECT_EQ(value["answers"][0]["larger_in_the_tent_is_worse"], true);
  EXPECT_TRUE(value["answers"][0]["trials"][0]["equipment"]["dehumidifier_l_per_day"].is_null());
  EXPECT_EQ(value["answers"][0]["trials"][3]["equipment"]["dehumidifier_in"], "room");
  EXPECT_EQ(value["answers"][1]["trials"][0]["figures"]["too_warm_h_a_day"], 1.25);
  EXPECT_EQ(value["together"]["dehumidifier_l_per_day"], 0.7);
}

TEST(SizeVerb, RefusesWhatItCannotSizeWithARemedy) {
  const Said fridge = testing::neap({"size", kConfig + "demo.yaml", "--of", "heater"});
  EXPECT_EQ(fridge.code, kExitUsage);
  EXPECT_THAT(fridge.err, HasSubstr("write dehumidifier, humidifier or fan"));
  const Said roomless = testing::neap({"size", kConfig + "starter.yaml"});
  EXPECT_EQ(roomless.code, kExitUsage);
  EXPECT_THAT(roomless.err, HasSubstr("--room 21C,55%"));
  const Said two_rooms = testing::neap({"size", kConfig + "demo.yaml", "--room", "21C,55%"});
  EXPECT_EQ(two_rooms.code, kExitUsage);
  EXPECT_THAT(two_rooms.err, HasSubstr("building_c"));
  for (const char* room : {"warm", "21C", "21C,120%", "21F,50%", ",", "21C,50%x"})
    EXPECT_EQ(testing::neap({"size", kConfig + "starter.yaml", "--room", room}).code, kExitUsage)
        << room;
}

TEST(SizeVerb, RunsTheDaemonOnceASizeInTheLongestStageWithADayToSettle) {
  testing::Directory directory;
  const std::string daemon = directory.file("neapd");
  std::ofstream(daemon) << "#!/bin/sh\necho \"$@\" >> " << directory.file("words")
                        << "; cat \"$2\" >> " << directory.file("settings") << "; exit 3\n";
  ::chmod(daemon.c_str(), 0755);
  const Said said =
      testing::neap({"size", kConfig + "demo.yaml", "--of", "fan"}, {{"NEAPD", daemon}});
  EXPECT_EQ(said.code, kExitFailed);
  EXPECT_THAT(said.err, HasSubstr("neapd ended with exit code 3"));
  std::ifstream in(directory.file("words"));
  const std::string words{std::istreambuf_iterator<char>(in), {}};
  // establishing 14 d, leafing 21 d, flowering 21 d: fruiting, of 35 d, begins 56 d after the start
  EXPECT_THAT(words, HasSubstr("--virtual --until 3d --from 2026-04-27T07:00"));
  std::ifstream settings(directory.file("settings"));
  const std::string text{std::istreambuf_iterator<char>(settings), {}};
  EXPECT_THAT(text, AllOf(HasSubstr("fan_max_m3h: 80"), Not(HasSubstr("canopy_sensor_silent"))));
}

}  // namespace
}  // namespace neap::client
