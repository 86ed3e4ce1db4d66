// One look ahead, move by move, in a tent whose sources are known.
#include "daemon/core/look_ahead.h"

#include <gtest/gtest.h>

#include "daemon/core/tent_observer.h"
#include "tests/core/climate_bench.h"

namespace neap {
namespace {

using climate_bench::usual_view;
using tent_model::g_per_kg;
using tent_model::MoistAir;

constexpr Band kBand{Kilopascal{0.8}, Kilopascal{1.2}};

MoistAir at(double celsius, double vpd_kpa) {
  return {celsius, g_per_kg(tent_model::saturation_kpa(celsius) - vpd_kpa)};
}

class LookAheadMoves : public testing::Test {
 protected:
  LookAheadMoves() {
    view_ = usual_view();
    view_.beliefs.tent_m3 = 1.9;
    view_.beliefs.dehumidifier_g_per_h = 60;
    view_.targets.day = false;
    view_.targets.humidity_ceiling = PercentRh{95};
    view_.targets.air_lowest = Celsius{10};
    view_.targets.air_highest = Celsius{30};
    view_.fan.ceiling = kRunning;
    view_.humidifier.fitted = false;
    for (LegalMove* device : {&view_.dehumidifier, &view_.humidifier}) {
      device->min_on = device->min_off = minutes{5};
      device->may_start_at = device->may_stop_at = view_.now;
    }
    settle(1.0, at(21, 1.3), 120, 20);
  }
  // The tent at this VPD and 22 C beside a room, giving off vapour and heat.
  void settle(double vpd_kpa, const MoistAir& room, double vapour_g_per_h, double heat_w) {
    estimate_.running = estimate_.room_known = estimate_.room_seen = true;
    estimate_.air = estimate_.lagged = at(22, vpd_kpa);
    estimate_.room = room;
    estimate_.walls_c = 21.5;
    estimate_.vapour_g_per_h = vapour_g_per_h;
    estimate_.heat_w = heat_w;
    estimate_.sampled = view_.now;
  }
  Choice look(const MistPulse& pulse = {}) const {
    const Outlook ahead = outlook(view_, estimate_, 0);
    return look_ahead(view_, believed(view_.beliefs, estimate_.learnt), estimate_, ahead, pulse,
                      Prices{});
  }

  ClimateView view_;
  TentEstimate estimate_;
};

TEST_F(LookAheadMoves, OnAHumidNightTheDehumidifierIsCalledBeforeTheBandIsLost) {
  settle(0.86, at(22, 0.75), 45, -25);
  view_.fan.level = kRunning;
  const Choice choice = look();
  EXPECT_TRUE(choice.dehumidifier);
  settle(1.0, at(22, 1.3), 45, -25);  // a room that venting can use
  EXPECT_FALSE(look().dehumidifier);
}

TEST_F(LookAheadMoves, ADehumidifierThatMayNotStartIsNotStarted) {
  settle(0.86, at(22, 0.75), 45, -25);
  view_.dehumidifier.may_start = false;
  view_.dehumidifier.may_start_at = view_.now + seconds{20};
  EXPECT_FALSE(look().dehumidifier);
  view_.dehumidifier.ceiling = kStopped;  // quiet hours
  view_.dehumidifier.may_start_at = view_.now;
  EXPECT_FALSE(look().dehumidifier);
}

TEST_F(LookAheadMoves, ADehumidifierThatMayNotStopRunsOn) {
  settle(1.3, at(22, 1.3), 45, 60);
  estimate_.run_up = 1;
  view_.dehumidifier.level = kRunning;
  EXPECT_FALSE(look().dehumidifier);
  view_.dehumidifier.may_stop_at = view_.now + seconds{20};
  EXPECT_TRUE(look().dehumidifier);
}

TEST_F(LookAheadMoves, AFloodIsVentedBeforeItsVapourIsThere) {
  settle(0.9, at(21, 1.25), 100, 40);
  view_.fan.level = Permille{300};
  const Permille without = look().fan;
  estimate_.flooding = true;  // its pump has just started: no vapour yet
  estimate_.flood_started = view_.now;
  estimate_.learnt.flood_peak_g_per_h = 200;
  EXPECT_GT(look().fan, without);
}

TEST_F(LookAheadMoves, AFloodToComeIsPartOfTheOutlook) {
  view_.future.flood_coming = true;
  view_.future.next_flood = view_.now + minutes{4};
  const Outlook ahead = outlook(view_, estimate_, 0);
  EXPECT_EQ(ahead.turn, 24);
  EXPECT_DOUBLE_EQ(ahead.vapour_g_per_h[23], estimate_.vapour_g_per_h);
  EXPECT_GT(ahead.vapour_g_per_h[35], estimate_.vapour_g_per_h + 20);
}

TEST_F(LookAheadMoves, TheFanVentsAheadOfQuietHoursThatWillBindIt) {
  settle(1.0, at(21, 1.25), 130, 20);
  view_.dehumidifier.fitted = false;
  view_.fan.level = Permille{300};
  const Permille without = look().fan;
  view_.future.fan_ceiling_coming = true;
  view_.future.fan_ceiling_changes = view_.now + minutes{3};
  view_.future.fan_ceiling_then = Permille{200};
  EXPECT_EQ(outlook(view_, estimate_, 0).ceiling_turn, 18);
  EXPECT_GT(look().fan, without);
}

TEST_F(LookAheadMoves, WhatQuietHoursForbidLaterCountsForNothing) {
  settle(0.7, at(21, 1.25), 150, 20);  // too humid, and the fan is soon at its least
  view_.future.fan_ceiling_coming = true;
  view_.future.fan_ceiling_changes = view_.now + minutes{1};
  view_.future.fan_ceiling_then = Permille{200};
  const double bound = look().vpd_at_end_kpa;
  view_.future.fan_ceiling_coming = false;
  view_.fan.ceiling = Permille{200};
  const double always = look().vpd_at_end_kpa;
  view_.fan.ceiling = kRunning;
  const double never = look().vpd_at_end_kpa;
  EXPECT_NEAR(bound, always, 0.05);
  EXPECT_GT(never, bound + 0.1);
}

TEST_F(LookAheadMoves, TheBandIsSeenAsItWillBeAfterTheLightsEdge) {
  view_.targets.day = true;
  view_.targets.band_by_day = kBand;
  view_.targets.band_by_night = {Kilopascal{0.5}, Kilopascal{0.9}};
  view_.targets.band_ramp = minutes{30};
  view_.future.light_edge_coming = true;
  view_.future.next_light_edge = view_.now + minutes{5};
  const auto low = [&](Millis later) { return band_ahead(view_, view_.now + later).low.value; };
  EXPECT_DOUBLE_EQ(low(minutes{5}), 0.8);
  EXPECT_NEAR(low(minutes{20}), 0.65, 1e-9);
  EXPECT_NEAR(low(minutes{35}), 0.5, 1e-9);
  EXPECT_NEAR(low(hours{3}), 0.5, 1e-9);
}

TEST_F(LookAheadMoves, ABandOnItsWayIsFollowed) {
  view_.targets.band_by_night = {Kilopascal{0.5}, Kilopascal{0.9}};
  view_.targets.band_by_day = kBand;
  view_.targets.band = {Kilopascal{0.65}, Kilopascal{1.05}};
  view_.targets.band_ramp = minutes{30};
  EXPECT_NEAR(band_ahead(view_, view_.now + minutes{10}).high.value, 0.95, 1e-9);
  EXPECT_NEAR(band_ahead(view_, view_.now + minutes{20}).high.value, 0.9, 1e-9);
}

TEST_F(LookAheadMoves, AHumidifierIsPulsedNeverBesideTheDehumidifier) {
  view_.humidifier.fitted = true;
  view_.humidifier.min_on = view_.humidifier.min_off = seconds{30};
  settle(1.4, at(20, 1.7), 25, 40);
  view_.fan.level = view_.fan.floor;
  const Choice mists = look();
  EXPECT_GT(mists.pulse.on_steps, 0);
  EXPECT_GE(mists.pulse.on_steps * kLookAheadStep, view_.humidifier.min_on);
  view_.dehumidifier.level = kRunning;
  view_.dehumidifier.may_stop_at = view_.now + minutes{3};
  EXPECT_EQ(look().pulse.on_steps, 0);
}

TEST_F(LookAheadMoves, HeatUnderTheLimitIsVentedThoughItDriesTooMuch) {
  settle(1.1, at(24, 1.6), 60, 250);
  estimate_.air = estimate_.lagged = at(29.5, 1.1);
  estimate_.walls_c = 27.5;
  view_.dehumidifier.fitted = false;
  view_.fan.level = view_.fan.floor;
  EXPECT_GE(look().fan, Permille{500});
}

TEST_F(LookAheadMoves, ATwoPositionFanIsOnlyStoppedOrRunning) {
  view_.fan.variable = false;
  for (const double vpd : {0.7, 0.9, 1.0, 1.1, 1.3}) {
    settle(vpd, at(21, 1.3), 120, 20);
    for (const Permille level : {kStopped, kRunning}) {
      view_.fan.level = level;
      const Permille wished = look().fan;
      EXPECT_TRUE(wished == kStopped || wished == kRunning) << vpd;
      view_.fan.may_start = view_.fan.may_stop = false;
      EXPECT_EQ(look().fan, level) << vpd;
      view_.fan.may_start = view_.fan.may_stop = true;
    }
  }
}

}  // namespace
}  // namespace neap
