// The two-position law in a small simulated tent (climate_tent.h), and the fixed fan beside it. The
// bounds are what this test measured, with a margin; no published source.
#include "tests/core/climate_tent.h"

#include <gtest/gtest.h>

#include "daemon/core/fixed_fan_law.h"
#include "daemon/core/two_position_law.h"

namespace neap {
namespace {

using namespace testing_tent;

constexpr Band kBand{Kilopascal{0.8}, Kilopascal{1.2}};

// A room whose vapour swings between 5.5 and 9.5 g/kg in a day, a full canopy, every device.
Tent swinging_tent() {
  Tent tent;
  tent.room_c = 22;
  tent.room_w_swing = 0.002;
  tent.day_g_per_h = 200;
  tent.lamp_w = 180;
  tent.dehumidifier.fitted = true;
  tent.humidifier.fitted = true;
  return tent;
}

TEST(SmallTent, InAMildRoomTheBandIsHeld) {
  Tent tent;
  EXPECT_GE(run(Plan{}, TwoPositionLaw{}, tent, kBand).in_band, 0.97);
}

TEST(SmallTent, WithATwoPositionFanTheBandIsHeldToo) {
  Tent tent;
  tent.fan_variable = false;
  const Score score = run(Plan{}, TwoPositionLaw{}, tent, kBand);
  EXPECT_GE(score.in_band, 0.97);
  EXPECT_GT(score.fan_moves_a_day, 100);  // by switching, not by luck
}

TEST(SmallTent, InASwingingRoomNoFixedFanComesNear) {
  Tent tent = swinging_tent();
  const Score law = run(Plan{}, TwoPositionLaw{}, tent, kBand);
  EXPECT_GE(law.in_band, 0.97);
  double best = 0;
  for (const int level : {200, 300, 400, 600, 800, 1000}) {
    Plan plan;
    plan.climate.fixed_fan_level = Permille{level};
    Tent again = swinging_tent();
    best = std::max(best, run(plan, FixedFanLaw{}, again, kBand).in_band);
  }
  EXPECT_LT(best, 0.6);
  EXPECT_GT(best, 0.3);
}

// 21 C, 10 g/kg: room VPD 0.89 kPa, so full venting reaches 0.80 by night: the band's very edge.
Tent humid_tent() {
  Tent tent;
  tent.room_w = 0.010;
  return tent;
}

TEST(SmallTent, InAHumidRoomVentingAloneLosesTheNight) {
  Tent tent = humid_tent();
  EXPECT_LT(run(Plan{}, TwoPositionLaw{}, tent, kBand).night, 0.2);
}

TEST(SmallTent, InAHumidRoomASmallDehumidifierHoldsTheNight) {
  Tent tent = humid_tent();
  tent.dehumidifier.fitted = true;
  const Score score = run(Plan{}, TwoPositionLaw{}, tent, kBand);
  EXPECT_GE(score.night, 0.95);
  EXPECT_GE(score.day, 0.95);
  EXPECT_LE(score.dehumidifier_starts_a_day, 40);
  EXPECT_GE(score.dehumidifier_starts_a_day, 5);
}

// Its minimum run alone carries the air through the band, whatever the law.
TEST(SmallTent, AnOversizedDehumidifierInTheTentIsWorseThanASmallOne) {
  Tent small = humid_tent();
  small.dehumidifier.fitted = true;
  Tent large = small;
  large.drying_g_per_h = 200;
  large.dehumidifier_w = 250;
  EXPECT_LT(run(Plan{}, TwoPositionLaw{}, large, kBand).night,
            run(Plan{}, TwoPositionLaw{}, small, kBand).night - 0.1);
}

TEST(SmallTent, ADehumidifierInTheRoomHoldsTheNightWithTheFan) {
  Tent tent = humid_tent();
  tent.dehumidifier.fitted = true;
  tent.dries_the_room = true;
  Plan plan;
  plan.climate.dehumidifier_place = DehumidifierPlace::room;
  EXPECT_GE(run(plan, TwoPositionLaw{}, tent, kBand).night, 0.9);
}

TEST(SmallTent, WithoutARoomProbeTheDehumidifierStillHoldsTheNight) {
  Tent tent = humid_tent();
  tent.room_probe = false;
  tent.dehumidifier.fitted = true;
  EXPECT_GE(run(Plan{}, TwoPositionLaw{}, tent, kBand).night, 0.9);
}

Tent dry_tent() {
  Tent tent;
  tent.room_c = 20;
  tent.room_w = 0.003;
  tent.day_g_per_h = 60;
  tent.night_g_per_h = 15;
  return tent;
}

TEST(SmallTent, InADryRoomTheHumidifierMakesTheBand) {
  Tent without = dry_tent();
  EXPECT_LT(run(Plan{}, TwoPositionLaw{}, without, kBand).in_band, 0.05);
  Tent with = dry_tent();
  with.humidifier.fitted = true;
  EXPECT_GE(run(Plan{}, TwoPositionLaw{}, with, kBand).in_band, 0.9);
}

// The commands do not depend on the scan's step (D-005).
TEST(SmallTent, ScanningWhenDueGrantsTheSameAsEverySecond) {
  for (const Tent& tent : {Tent{}, swinging_tent(), humid_tent(), dry_tent()}) {
    for (const bool equipped : {false, true}) {
      Tent first = tent;
      first.dehumidifier.fitted = first.humidifier.fitted = equipped;
      Tent second = first;
      Trace each_second;
      Trace when_due;
      run(Plan{}, TwoPositionLaw{}, first, kBand, 1, Stepping::every_second, &each_second);
      run(Plan{}, TwoPositionLaw{}, second, kBand, 1, Stepping::when_due, &when_due);
      EXPECT_EQ(each_second.fan, when_due.fan);
      EXPECT_EQ(each_second.dehumidifier, when_due.dehumidifier);
      EXPECT_EQ(each_second.humidifier, when_due.humidifier);
    }
  }
}

}  // namespace
}  // namespace neap
