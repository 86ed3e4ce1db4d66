// Goal: the right device is doubted when the air shows it, in its time, nothing is doubted for
// less, and a doubt ends when the device works. Method: the observer's estimate is given by hand,
// sample by sample, as a device that fails would make it.
#include "daemon/core/device_doubt.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <functional>

#include "daemon/core/air.h"
#include "daemon/core/tent_observer.h"

namespace neap {
namespace {

constexpr std::array kAll{Doubt::fan_dead, Doubt::dehumidifier_dead, Doubt::dehumidifier_welded,
                          Doubt::humidifier_dry, Doubt::light_stuck_on};

// A tent of 24 C and VPD 1 kPa against a room of 20 C: sources of 100 g/h and 50 W.
class Bench {
 public:
  Bench() {
    view.fan = device(Permille{500});
    view.dehumidifier = device(kStopped);
    view.humidifier = device(kStopped);
    view.light = kRunning;
    view.targets.day = true;
    view.targets.band = {Kilopascal{0.8}, Kilopascal{1.2}};
    tent.running = true;
    tent.room_seen = tent.room_known = true;
    tent.room = {20, 8};
    air(24, 66.5);
    sources(100, 50);
  }

  static LegalMove device(Permille level) {
    LegalMove move;
    move.fitted = true;
    move.level = level;
    return move;
  }
  void air(double celsius, double percent) {
    view.canopy = derive_air(Reading<Celsius>::of(Celsius{celsius}, Quality::good, now),
                             Reading<PercentRh>::of(PercentRh{percent}, Quality::good, now),
                             Reading<Celsius>::absent(Fault::not_fitted), {}, now);
    tent.air = {celsius, tent_model::g_per_kg(tent_model::saturation_kpa(celsius) * percent / 100)};
  }
  void sources(double g_per_h, double watt) {
    tent.vapour_g_per_h = g_per_h;
    tent.heat_w = watt;
  }
  void dark() {
    view.targets.day = false;
    view.light = kStopped;
    tent.edge = now;
  }

  // Until `done` or `most`; the time that went by.
  Millis run(
      Millis most, const std::function<bool()>& done = [] { return false; }) {
    const Instant from = now;
    while (now - from < most && !done()) {
      now += seconds{10};
      view.now = tent.sampled = now;
      store_estimate(tent, memory);
      weigh_devices(view, memory);
    }
    return now - from;
  }
  Millis until(Doubt doubt, bool stands, Millis most = hours{2}) {
    return run(most, [&] { return standing_doubts(memory)[doubt] == stands; });
  }
  bool only(Doubt doubt) const {
    for (const Doubt other : kAll)
      if (standing_doubts(memory)[other] != (other == doubt)) return false;
    return true;
  }
  bool none() const {
    for (const Doubt doubt : kAll)
      if (standing_doubts(memory)[doubt]) return false;
    return true;
  }
  // What a dehumidifier does to the sources that are found when it is not told, times `part`.
  void welded(double part) {
    const auto full = tent_model::drying_at(view.beliefs, tent.air);
    sources(100 - part * full.g_per_h, 50 + part * full.heat_w);
  }

  ClimateView view;
  TentEstimate tent;
  LawMemory memory;
  Instant now = instant(Millis{4294967000});
};

constexpr Millis kToKnowTheTent = hours{2};
constexpr Millis kEvidence = minutes{10};  // at least

TEST(DeviceDoubt, ADehumidifierThatRunsUntoldIsNamedInTenMinutes) {
  Bench bench;
  bench.run(kToKnowTheTent);
  ASSERT_TRUE(bench.none());
  bench.welded(1);
  const Millis took = bench.until(Doubt::dehumidifier_welded, true);
  EXPECT_TRUE(bench.only(Doubt::dehumidifier_welded));
  EXPECT_GE(took, kEvidence);
  EXPECT_LE(took, kEvidence + minutes{2});
}

TEST(DeviceDoubt, OneThatIsToldAndDoesNothingIsNamed) {
  Bench bench;
  bench.run(kToKnowTheTent);
  bench.view.dehumidifier.level = kRunning;
  bench.welded(-1);
  EXPECT_LE(bench.until(Doubt::dehumidifier_dead, true), minutes{25});
  EXPECT_TRUE(bench.only(Doubt::dehumidifier_dead));
}

TEST(DeviceDoubt, AHumidifierWithoutMistIsNamedAndNotTheDehumidifier) {
  Bench bench;
  bench.run(kToKnowTheTent);
  bench.view.humidifier.level = kRunning;
  double told_s = 0;  // the observer takes its minutes
  const auto found = [&] {
    const double mist = bench.view.beliefs.humidifier_g_per_h * (1 - std::exp(-told_s / 300));
    bench.sources(100 - mist, 50 + tent_model::kEvaporationWh * mist);
    told_s += 10;
    return standing_doubts(bench.memory)[Doubt::humidifier_dry];
  };
  EXPECT_LE(bench.run(hours{2}, found), minutes{25});
  EXPECT_TRUE(bench.only(Doubt::humidifier_dry));
}

TEST(DeviceDoubt, AFanThatMovesNoAirIsNamedByBothVapourAndHeat) {
  Bench bench;
  bench.run(kToKnowTheTent);
  // 27 C and 80 % against the room with a flow that is not there: 1.2 (Q - Ql) times what differs.
  bench.air(27, 80);
  const double flow = 1.2 * (tent_model::air_flow_m3_per_h(bench.view.beliefs, Permille{500}, 7) -
                             tent_model::air_flow_m3_per_h(bench.view.beliefs, kStopped, 7));
  bench.sources(100 + flow * (bench.tent.air.g_per_kg - 8), 50 + flow * 1006 / 3600 * 7);
  EXPECT_LE(bench.until(Doubt::fan_dead, true), minutes{20});
  EXPECT_TRUE(bench.only(Doubt::fan_dead));
}

TEST(DeviceDoubt, TheLightsSourcesInTheDarkNameTheLight) {
  Bench bench;
  bench.run(kToKnowTheTent);
  bench.dark();
  bench.sources(40, -10);
  bench.run(hours{3});
  ASSERT_TRUE(bench.none());
  bench.sources(100, 50);
  EXPECT_LE(bench.until(Doubt::light_stuck_on, true), minutes{20});
  EXPECT_TRUE(bench.only(Doubt::light_stuck_on));
  bench.sources(40, -10);
  EXPECT_LE(bench.until(Doubt::light_stuck_on, false), minutes{45});
}

TEST(DeviceDoubt, ALightSensorDecidesWithinMinutesAndWithoutKnowingTheTent) {
  Bench bench;
  bench.dark();
  bench.view.light_lux = 3000;
  EXPECT_LE(bench.until(Doubt::light_stuck_on, true), minutes{3});
  bench.view.light_lux = 3;
  EXPECT_LE(bench.until(Doubt::light_stuck_on, false), minutes{3});
}

TEST(DeviceDoubt, LessThanHalfOfASignatureIsNoDoubt) {
  Bench bench;
  bench.run(kToKnowTheTent);
  bench.welded(0.4);
  bench.run(hours{6});
  EXPECT_TRUE(bench.none());
}

TEST(DeviceDoubt, ANewLampLevelIsAnotherTentAndNoFault) {
  Bench bench;
  bench.run(kToKnowTheTent);
  bench.view.light = Permille{600};
  bench.sources(30, 10);
  bench.run(hours{6});
  EXPECT_TRUE(bench.none());
}

TEST(DeviceDoubt, ASaturatedProbeAndALostRoomGiveNoEvidence) {
  for (const bool room_lost : {false, true}) {
    Bench bench;
    bench.run(kToKnowTheTent);
    bench.welded(1);
    if (room_lost)
      bench.tent.room_seen = false;
    else
      bench.air(24, 99.5);
    bench.run(hours{2});
    EXPECT_TRUE(bench.none()) << room_lost;
  }
}

TEST(DeviceDoubt, ADoubtEndsWhenTheDeviceObeysAndStaysOverALawChange) {
  Bench bench;
  bench.run(kToKnowTheTent);
  bench.welded(1);
  bench.until(Doubt::dehumidifier_welded, true);
  LawMemory other;
  carry_doubts(bench.memory, other);
  EXPECT_TRUE(standing_doubts(other)[Doubt::dehumidifier_welded]);
  bench.sources(100, 50);  // the observer has it in its model: all is as it was
  bench.run(hours{3});
  EXPECT_TRUE(bench.only(Doubt::dehumidifier_welded));
  bench.welded(-1);  // it has stopped, and the model still takes its water
  EXPECT_LE(bench.until(Doubt::dehumidifier_welded, false), minutes{10});
  bench.sources(100, 50);
  bench.run(hours{2});
  EXPECT_TRUE(bench.none());
}

TEST(DeviceDoubt, NothingWorksAgainstADehumidifierThatCannotBeStopped) {
  Bench bench;
  Doubts doubts;
  doubts.standing[static_cast<std::size_t>(Doubt::dehumidifier_welded)] = true;
  const ClimateView seen = as_it_is(bench.view, doubts);
  EXPECT_EQ(seen.dehumidifier.level, kRunning);
  EXPECT_FALSE(seen.dehumidifier.may_stop);
  EXPECT_EQ(seen.humidifier.ceiling, kStopped);
  ClimateAsk ask;
  ask.humidifier = {true, kRunning, {}};
  answer_doubts(bench.view, doubts, ask);
  EXPECT_EQ(ask.humidifier.level, kStopped);
  EXPECT_EQ(ask.dehumidifier.level, kStopped);
  EXPECT_EQ(ask.humidifier.because.reason, Reason::doubt_dehumidifier_welded);
}

TEST(DeviceDoubt, WhatDoesNotWorkIsTriedFromOneEdgeOfTheBandToTheOther) {
  Bench bench;
  Doubts doubts;
  doubts.standing[static_cast<std::size_t>(Doubt::dehumidifier_dead)] = true;
  EXPECT_FALSE(as_it_is(bench.view, doubts).dehumidifier.fitted);
  const auto asked = [&](double percent, Permille level) {
    bench.air(24, percent);
    bench.view.dehumidifier.level = level;
    ClimateAsk ask;
    ask.humidifier = {true, kRunning, {}};
    answer_doubts(bench.view, doubts, ask);
    return ask;
  };
  bench.view.new_sample = true;
  EXPECT_EQ(asked(80, kStopped).dehumidifier.level, kRunning);    // 0.60 kPa
  EXPECT_EQ(asked(80, kStopped).humidifier.level, kStopped);      // not against it
  EXPECT_EQ(asked(66.5, kRunning).dehumidifier.level, kRunning);  // 1.00
  EXPECT_EQ(asked(66.5, kStopped).dehumidifier.level, kStopped);
  EXPECT_EQ(asked(55, kRunning).dehumidifier.level, kStopped);  // 1.34
}

}  // namespace
}  // namespace neap
