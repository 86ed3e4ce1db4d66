// What the devices can reach, what binds, and what would cure it; and how long it takes to say so.
// Expected figures come from the steady balances by hand (control theory of a mixed volume), or
// from the model itself where a cure is put back into it.
#include "daemon/core/reach.h"

#include <gtest/gtest.h>

#include "daemon/core/diagnosis.h"
#include "daemon/core/two_position_law.h"
#include "tests/core/climate_bench.h"

namespace neap {
namespace {

using climate_bench::air_of;
using climate_bench::air_with_vpd;

// A tent that gives off `vapour` and `heat` beside a room, with a fan alone.
struct Bench {
  ClimateView view = climate_bench::usual_view();
  TentEstimate estimate;
  Bench(double vapour_g_per_h, double heat_w, double room_c, double room_rh) {
    view.fan.ceiling = kRunning;
    view.dehumidifier.fitted = view.humidifier.fitted = false;
    estimate.running = estimate.room_seen = estimate.room_known = true;
    estimate.room = *tent_model::moist_air(air_of(room_c, room_rh));
    estimate.air = *tent_model::moist_air(air_of(22, 65));
    estimate.vapour_g_per_h = vapour_g_per_h;
    estimate.heat_w = heat_w;
  }
};

// 22 C, 75 %: 0.66 kPa, and the plants add to it.
Bench humid_room() { return {45, -25, 22, 75}; }
// 20 C, 20 %: 1.87 kPa.
Bench dry_room() { return {15, 20, 20, 20}; }
Bench hot_room() { return {100, 120, 33, 40}; }

TEST(Reach, NothingBindsWhereTheBandLiesBetweenLeastAndMost) {
  const Bench bench{160, 60, 21, 50};
  const Span span = reachable(bench.view, bench.view.beliefs, bench.estimate, true, true);
  EXPECT_LT(span.least, 0.8);
  EXPECT_GT(span.greatest, 0.8);
  EXPECT_EQ(reach(bench.view, bench.estimate, true).binding, Binding::nothing);
}

TEST(Reach, FullVentingOfADarkTentComesNearTheRoomsVpdAndNotBeyond) {
  const Bench bench = humid_room();
  const Span span = reachable(bench.view, bench.view.beliefs, bench.estimate, true, true);
  EXPECT_LT(span.greatest, 0.66);
  EXPECT_GT(span.greatest, 0.66 * 0.8);
}

TEST(Reach, TooHumidNamesDryingThatDoesWhenItIsFitted) {
  Bench bench = humid_room();
  const Reach found = reach(bench.view, bench.estimate, true);
  ASSERT_EQ(found.binding, Binding::too_humid);
  EXPECT_LT(found.best, 0.66);
  ASSERT_TRUE(found.cures.drying_g_per_h);
  bench.view.dehumidifier.fitted = true;
  bench.view.beliefs.dehumidifier_g_per_h = *found.cures.drying_g_per_h;
  EXPECT_EQ(reach(bench.view, bench.estimate, true).binding, Binding::nothing);
  bench.view.beliefs.dehumidifier_g_per_h = *found.cures.drying_g_per_h * 0.3;
  EXPECT_EQ(reach(bench.view, bench.estimate, true).binding, Binding::too_humid)
      << "a third of it is too little: the cure is no exaggeration";
}

TEST(Reach, TooHumidNamesTheRoomThatWouldDo) {
  Bench bench = humid_room();
  const Reach found = reach(bench.view, bench.estimate, true);
  ASSERT_TRUE(found.cures.room_percent && found.cures.room_kelvin);
  EXPECT_LT(*found.cures.room_percent, 70);
  Bench drier = humid_room();
  drier.estimate.room = *tent_model::moist_air(air_of(22, *found.cures.room_percent));
  EXPECT_EQ(reach(drier.view, drier.estimate, true).binding, Binding::nothing);
  Bench warmer = humid_room();
  warmer.estimate.room.celsius += *found.cures.room_kelvin;
  EXPECT_EQ(reach(warmer.view, warmer.estimate, true).binding, Binding::nothing);
}

TEST(Reach, ALargerFanIsNoCureWhereTheRoomItselfIsTooHumid) {
  const Bench bench = humid_room();
  EXPECT_FALSE(reach(bench.view, bench.estimate, true).cures.fan_m3_per_h);
}

TEST(Reach, ALargerFanIsACureWhereTheRoomIsDryEnough) {
  Bench bench{300, -60, 22, 60};
  bench.view.beliefs.fan_m3_per_h = 60;
  const Reach found = reach(bench.view, bench.estimate, true);
  ASSERT_EQ(found.binding, Binding::too_humid);
  ASSERT_TRUE(found.cures.fan_m3_per_h);
  bench.view.beliefs.fan_m3_per_h = *found.cures.fan_m3_per_h;
  EXPECT_EQ(reach(bench.view, bench.estimate, true).binding, Binding::nothing);
}

TEST(Reach, TooDryNamesTheMistThatDoesWhenItIsFitted) {
  Bench bench = dry_room();
  const Reach found = reach(bench.view, bench.estimate, true);
  ASSERT_EQ(found.binding, Binding::too_dry);
  EXPECT_GT(found.best, 1.2);
  ASSERT_TRUE(found.cures.mist_g_per_h);
  bench.view.humidifier.fitted = true;
  bench.view.beliefs.humidifier_g_per_h = *found.cures.mist_g_per_h;
  EXPECT_EQ(reach(bench.view, bench.estimate, true).binding, Binding::nothing);
}

TEST(Reach, TooWarmNamesTheCoolestAirAndACoolerRoom) {
  Bench bench = hot_room();
  const Reach found = reach(bench.view, bench.estimate, true);
  ASSERT_EQ(found.binding, Binding::too_warm);
  EXPECT_GT(found.best, 33);  // the room's air at least, with heat added
  ASSERT_TRUE(found.cures.room_kelvin);
  EXPECT_NEAR(*found.cures.room_kelvin, -(found.best - 30 + 0.3), 0.3);
}

TEST(Reach, ADehumidifierInTheRoomThatStandsStillMayYetDryIt) {
  Bench bench = humid_room();
  bench.view.dehumidifier.fitted = true;
  bench.view.beliefs.dehumidifier_place = DehumidifierPlace::room;
  EXPECT_EQ(reach(bench.view, bench.estimate, true).binding, Binding::nothing);
  bench.view.dehumidifier.level = kRunning;
  EXPECT_EQ(reach(bench.view, bench.estimate, true).binding, Binding::too_humid);
}

TEST(Reach, OfALeafBandIsReckonedInLeafVpd) {
  Bench bench = humid_room();
  bench.view.targets.band_of = BandOf::leaf;
  bench.view.canopy.leaf_vpd = Reading<Kilopascal>::of(*bench.view.canopy.vpd - Kilopascal{0.26},
                                                       Quality::good, climate_bench::kStart);
  const double air = reach(humid_room().view, bench.estimate, false).best;
  EXPECT_NEAR(reach(bench.view, bench.estimate, false).best, air - 0.26, 1e-9);
}

// --- saying so
// -----------------------------------------------------------------------------------

// The air at 0.62 kPa beside a room of 22 C and 75 %, the fan at its most: nothing can be done.
class SayingSo : public testing::Test {
 protected:
  SayingSo() {
    view_.dehumidifier.fitted = view_.humidifier.fitted = false;
    view_.fan.level = view_.fan.ceiling = kRunning;
    view_.targets.day = false;
    view_.targets.humidity_ceiling = PercentRh{95};
    view_.room = air_of(22, 75);
  }
  ClimateAsk samples(Millis length) {
    ClimateAsk ask;
    for (Millis passed{}; passed < length; passed += seconds{10}) {
      view_.now += seconds{10};
      view_.canopy = air_with_vpd(vpd_, view_.now);
      Demands demands;
      ask = run_climate(plan_, law_, view_, memory_, demands);
    }
    return ask;
  }

  Plan plan_;
  TwoPositionLaw law_;
  LawMemory memory_;
  ClimateView view_ = climate_bench::usual_view();
  double vpd_ = 0.62;
};

TEST_F(SayingSo, TakesFourLooksFiveMinutesApart) {
  EXPECT_EQ(samples(minutes{15}).binding, Binding::nothing);
  const ClimateAsk ask = samples(seconds{10});
  EXPECT_EQ(ask.binding, Binding::too_humid);
  EXPECT_EQ(ask.diagnosis.reason, Reason::reach_too_humid);
  EXPECT_LT(ask.diagnosis.args[0], 0.66);
  EXPECT_EQ(ask.diagnosis.args[1], 0.8);
  EXPECT_GT(ask.diagnosis.args[2], 0.1);  // L/d
  EXPECT_LT(ask.diagnosis.args[2], 2);
  ASSERT_EQ(ask.cures.size(), 2u);
  EXPECT_EQ(ask.cures[0].reason, Reason::cure_room_drier);
  EXPECT_EQ(ask.cures[1].reason, Reason::cure_room_warmer);
}

TEST_F(SayingSo, EndsWithTheFirstLookThatFindsAWay) {
  ASSERT_EQ(samples(minutes{20}).binding, Binding::too_humid);
  view_.room = air_of(22, 45);
  view_.fan.level = Permille{500};
  EXPECT_EQ(samples(minutes{6}).binding, Binding::nothing);
}

TEST_F(SayingSo, AFloodThatMoistensDryAirInterruptsItOnly) {
  view_.room = air_of(20, 20);
  view_.fan.level = view_.fan.floor;
  vpd_ = 1.45;
  ASSERT_EQ(samples(minutes{20}).binding, Binding::too_dry);
  view_.future.flood_now = true;
  view_.future.flood_started = view_.now;
  vpd_ = 1.0;
  EXPECT_EQ(samples(minutes{20}).binding, Binding::nothing);
  view_.future.flood_now = false;
  vpd_ = 1.45;
  EXPECT_EQ(samples(minutes{11}).binding, Binding::too_dry);
}

TEST_F(SayingSo, BeginsAgainWhenTheRoomIsNotRead) {
  samples(minutes{14});
  const Air room = view_.room;
  view_.room = {};
  samples(seconds{10});
  view_.room = room;
  samples(seconds{10});
  // The facts have been the same for 20 minutes: those are said, without figures of the model.
  const ClimateAsk ask = samples(minutes{6});
  EXPECT_EQ(ask.binding, Binding::too_humid);
  EXPECT_NE(ask.diagnosis.reason, Reason::reach_too_humid);
  EXPECT_TRUE(ask.cures.empty());
}

TEST_F(SayingSo, KeepsWhatItKnowsOfTheTentWhenTheLawChanges) {
  samples(minutes{5});
  const TentEstimate before = load_estimate(memory_);
  memory_.law = 77;
  samples(seconds{10});
  const TentEstimate after = load_estimate(memory_);
  EXPECT_TRUE(before.running);
  EXPECT_EQ(after.edge, before.edge);
  EXPECT_NEAR(after.vapour_g_per_h, before.vapour_g_per_h, 1);
}

}  // namespace
}  // namespace neap
