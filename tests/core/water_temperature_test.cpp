// Heater and chiller in the reservoir: held in the stage's band, never out of water, never both.
#include "daemon/core/water_temperature.h"

#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap {
namespace {

using test::hold;
using test::Rig;

constexpr std::int32_t kNoon = 12 * 3600;
constexpr Point kWater = Point::solution_temperature;
constexpr Output kHeater = Output::water_heater;
constexpr Output kChiller = Output::water_chiller;

Plan tempered() {
  Plan plan = test::strawberry_plan();
  plan.points[kWater] = test::sampled_every(seconds{10});
  plan.outputs[kHeater] = test::two_position(kStopped);
  plan.outputs[kChiller] = test::two_position(kStopped);
  plan.outputs[kChiller]->min_on = limits::kCompressorMinOn;
  plan.outputs[kChiller]->min_off = limits::kCompressorMinOff;
  plan.programme.stages[0].floods.rule = SlotRule::none;
  plan.programme.stages[0].solution[static_cast<std::size_t>(Hand::temperature)] = {18, 22};
  return plan;
}

// Water of `litres` in a room: 200 W to warm or to cool it, a time constant of 10 h.
struct Bath {
  double room_c;
  double litres = 40;
  double coldest = 99, hottest = 0;  // since the last look
  int heater_starts = 0;
  bool heated = false, both = false;

  void operator()(Rig& rig) {
    double& water = rig.values[kWater];
    const double heat = (rig.running(kHeater) ? 200 : 0) - (rig.running(kChiller) ? 200 : 0);
    water += heat / (litres * 4186) + (room_c - water) / 36000;
    coldest = std::min(coldest, water);
    hottest = std::max(hottest, water);
    heater_starts += rig.running(kHeater) && !heated ? 1 : 0;
    heated = rig.running(kHeater);
    both |= rig.running(kHeater) && rig.running(kChiller);
  }
};

struct Story {
  explicit Story(double water_c, Plan plan = tempered(), double litres = 70)
      : rig(std::move(plan), kNoon) {
    rig.reservoir_l = litres;
    rig.values[kWater] = water_c;
    rig.boot(nullptr);
    rig.run(minutes{1});
  }
  Reason refused(Output output) {
    const Event& answer = rig.ask(hold(output, kRunning, minutes{30}));
    return answer.accepted ? Reason::none : answer.because.reason;
  }
  Rig rig;
};

TEST(WaterTemperature, InAColdRoomItIsHeldAtTheLowEdgeAndNobodyIsCalled) {
  Story s{16};
  Bath bath{14};
  s.rig.air = [&](Rig& rig) { bath(rig); };
  EXPECT_TRUE(s.rig.running(kHeater));
  EXPECT_EQ(s.rig.reason(kHeater), Reason::water_warmed);
  s.rig.run(hours{4});
  bath.coldest = 99;
  bath.hottest = 0;
  bath.heater_starts = 0;
  EXPECT_EQ(s.rig.alarm(Alarm::water_off_band), AlarmState::returned) << "it began too cold";
  s.rig.ask({.kind = RequestKind::acknowledge, .all = true});
  s.rig.run(hours{20});
  EXPECT_NEAR(bath.coldest, 18.0, 0.05);
  EXPECT_NEAR(bath.hottest, 18.5, 0.05);
  EXPECT_GT(bath.heater_starts, 5);
  EXPECT_LT(bath.heater_starts, 30);
  EXPECT_EQ(s.rig.alarm(Alarm::water_off_band), AlarmState::normal);
  EXPECT_FALSE(bath.both);
}

TEST(WaterTemperature, InAHotRoomItIsCooledAndTheCompressorRests) {
  Story s{22.6};
  Bath bath{32, 10};  // little water: 0.5 K in 2 min
  s.rig.air = [&](Rig& rig) { bath(rig); };
  s.rig.run(hours{12});
  const auto changes = s.rig.changes();
  std::optional<std::int64_t> last;
  int starts = 0;
  for (const auto& change : changes) {
    if (change.output != kChiller) continue;
    starts += change.level > kStopped ? 1 : 0;
    if (last) {
      EXPECT_GE(change.tick - *last, Millis{limits::kCompressorMinOn}.count());
    }
    last = change.tick;
  }
  EXPECT_GE(starts, 10);
  EXPECT_LT(bath.hottest, 22.9);
  EXPECT_FALSE(bath.both);
}

TEST(WaterTemperature, TheFloatThatHangsDryStopsTheHeaterInThatScanAndRefusesAHand) {
  Story s{16};
  ASSERT_TRUE(s.rig.running(kHeater));
  s.rig.contact(Point::reservoir_low, Contact::clear);
  EXPECT_FALSE(s.rig.running(kHeater));
  EXPECT_EQ(s.rig.reason(kHeater), Reason::reservoir_low);
  EXPECT_EQ(s.refused(kHeater), Reason::reservoir_low);
  EXPECT_EQ(s.refused(kChiller), Reason::reservoir_low);
  s.rig.contact(Point::reservoir_low, Contact::set);
  EXPECT_FALSE(s.rig.running(kHeater)) << "the float has to say so for a while";
  s.rig.run(minutes{1});
  EXPECT_TRUE(s.rig.running(kHeater));
}

TEST(WaterTemperature, AHandsHoldIsNoExcuseForAHeaterOutOfWaterAndEndsWithIt) {
  Story s{20};
  ASSERT_FALSE(s.rig.running(kHeater));
  ASSERT_EQ(s.refused(kHeater), Reason::none);
  ASSERT_TRUE(s.rig.running(kHeater));
  s.rig.contact(Point::reservoir_low, Contact::clear);
  EXPECT_FALSE(s.rig.running(kHeater));
  s.rig.contact(Point::reservoir_low, Contact::set);
  s.rig.run(minutes{1});
  EXPECT_FALSE(s.rig.running(kHeater)) << "a hand's word is not taken twice";
}

TEST(WaterTemperature, ItsLevelIsTheOneThatIsThereNowAndAFloodTakesIt) {
  Plan plan = tempered();
  plan.water.covered_at = Litres{48};
  Story s{16, plan, 50};  // no flood may start on it; the heater is under water
  ASSERT_EQ(s.rig.state.kernel_inputs.reservoir, LevelSeen::low);
  EXPECT_TRUE(s.rig.running(kHeater));
  s.rig.reservoir_l = 70;
  s.rig.run(minutes{1});
  ASSERT_TRUE(s.rig.ask({.kind = RequestKind::flood_start}).accepted);
  s.rig.after_scan = [](const Rig& rig) {
    const bool low = *rig.inputs.samples[Point::reservoir_level].value < 48;
    EXPECT_FALSE(low && rig.running(kHeater));
  };
  ASSERT_TRUE(s.rig.run_until([&] { return !s.rig.running(kHeater); }, minutes{5}));
  EXPECT_EQ(s.rig.reason(kHeater), Reason::reservoir_low);
  ASSERT_TRUE(s.rig.run_until([&] { return s.rig.running(kHeater); }, minutes{40}));
  EXPECT_GE(s.rig.reservoir_l, 49);
}

TEST(WaterTemperature, WithoutAFloatALevelSensorThatFallsSilentStopsIt) {
  Plan plan = tempered();
  plan.points[Point::reservoir_low].reset();
  Story s{16, plan};
  ASSERT_TRUE(s.rig.running(kHeater));
  s.rig.silence(Point::reservoir_level);
  s.rig.run(minutes{2});
  EXPECT_FALSE(s.rig.running(kHeater));
  EXPECT_EQ(s.rig.reason(kHeater), Reason::reservoir_unknown);
}

TEST(WaterTemperature, AFloatSaysNothingOfALevelThatTheSettingsName) {
  Plan plan = tempered();
  Story by_float{16, plan};
  ASSERT_TRUE(by_float.rig.running(kHeater));
  by_float.rig.silence(Point::reservoir_level);
  by_float.rig.run(minutes{2});
  EXPECT_TRUE(by_float.rig.running(kHeater)) << "the float's own level covers it";

  plan.water.covered_at = Litres{48};
  Story named{16, plan};
  ASSERT_TRUE(named.rig.running(kHeater));
  named.rig.silence(Point::reservoir_level);
  named.rig.run(minutes{2});
  EXPECT_FALSE(named.rig.running(kHeater));
  EXPECT_EQ(named.rig.reason(kHeater), Reason::reservoir_unknown);
}

TEST(WaterTemperature, AProbeThatIsPulledStopsBothAndItIsSaid) {
  Story s{16};
  ASSERT_TRUE(s.rig.running(kHeater));
  s.rig.silence(kWater);
  s.rig.run(minutes{2});
  EXPECT_FALSE(s.rig.running(kHeater));
  EXPECT_EQ(s.rig.reason(kHeater), Reason::water_no_reading);
  EXPECT_EQ(s.refused(kHeater), Reason::water_no_reading);
  EXPECT_EQ(s.refused(kChiller), Reason::water_no_reading);
  s.rig.run(minutes{2});
  EXPECT_EQ(s.rig.alarm(Alarm::sensor_lost), AlarmState::unacknowledged);
}

TEST(WaterTemperature, NothingHeatsAboveTheHottestAndAHeaterThatDoesIsTold) {
  Story s{20};
  ASSERT_EQ(s.refused(kHeater), Reason::none);
  s.rig.values[kWater] = 29.9;
  s.rig.run(minutes{1});
  EXPECT_TRUE(s.rig.running(kHeater));
  s.rig.values[kWater] = 30.1;
  s.rig.run(seconds{20});
  EXPECT_FALSE(s.rig.running(kHeater));
  EXPECT_EQ(s.rig.reason(kHeater), Reason::water_too_hot);
  s.rig.values[kWater] = 29.5;
  s.rig.run(minutes{1});
  EXPECT_FALSE(s.rig.running(kHeater)) << "by a margin under it";
  s.rig.values[kWater] = 30.4;  // its relay is welded
  s.rig.run(minutes{3});
  EXPECT_EQ(s.rig.alarm(Alarm::water_too_hot), AlarmState::unacknowledged);
  EXPECT_TRUE(s.rig.running(kChiller));
}

TEST(WaterTemperature, NeverBothWhoeverAsks) {
  Story s{16};
  ASSERT_TRUE(s.rig.running(kHeater));
  EXPECT_EQ(s.refused(kChiller), Reason::water_other_runs);
  s.rig.values[kWater] = 20;
  s.rig.run(minutes{6});
  ASSERT_EQ(s.refused(kChiller), Reason::none);
  EXPECT_TRUE(s.rig.running(kChiller));
  EXPECT_EQ(s.refused(kHeater), Reason::water_other_runs);
  s.rig.values[kWater] = 17;
  s.rig.run(minutes{1});
  EXPECT_FALSE(s.rig.running(kHeater));
  EXPECT_EQ(s.rig.reason(kHeater), Reason::water_other_runs);
}

TEST(WaterTemperature, WithoutABandOrWhileNothingGrowsBothAreOff) {
  Plan plan = tempered();
  plan.programme.stages[1].solution = plan.programme.stages[0].solution;
  Story s{16, plan};
  ASSERT_TRUE(s.rig.running(kHeater));
  ASSERT_TRUE(s.rig.ask({.kind = RequestKind::enter_stage, .number = 1}).accepted);
  s.rig.run(seconds{2});
  EXPECT_FALSE(s.rig.running(kHeater));
  EXPECT_EQ(s.rig.reason(kHeater), Reason::water_fallow);
  plan.programme.stages[0].solution = {};
  Story bare{16, plan};
  EXPECT_FALSE(bare.rig.running(kHeater));
  EXPECT_EQ(bare.rig.reason(kHeater), Reason::water_no_band);
  EXPECT_EQ(bare.rig.reason(kChiller), Reason::water_no_band);
}

TEST(WaterTemperature, HandsInTheWaterAndWaterOnTheFloorStopBoth) {
  Story s{16};
  ASSERT_TRUE(s.rig.ask({.kind = RequestKind::service_begin, .duration = minutes{30}}).accepted);
  EXPECT_FALSE(s.rig.running(kHeater));
  EXPECT_EQ(s.rig.reason(kHeater), Reason::service_holds);
  ASSERT_TRUE(s.rig.ask({.kind = RequestKind::service_end}).accepted);
  s.rig.run(seconds{2});
  ASSERT_TRUE(s.rig.running(kHeater));
  s.rig.contact(Point::leak_floor, Contact::set);
  EXPECT_FALSE(s.rig.running(kHeater));
  EXPECT_EQ(s.rig.reason(kHeater), Reason::leak_wet);
}

TEST(WaterTemperature, TheFirstWordOfAProbeStartsNothing) {
  Rig rig{tempered(), kNoon};
  rig.values[kWater] = 16;
  rig.boot(nullptr);
  rig.scan_now();
  EXPECT_FALSE(rig.running(kHeater));
  rig.run(minutes{1});
  EXPECT_TRUE(rig.running(kHeater));
}

TEST(WaterTemperature, WhereNothingHoldsTheEdgeItsBandIsTheAlarmsOwn) {
  for (const bool held : {false, true}) {
    Plan plan = tempered();
    if (!held) plan.outputs[kHeater].reset();
    Story s{17.7, plan};
    s.rig.run(minutes{30});
    EXPECT_EQ(s.rig.alarm(Alarm::water_off_band) == AlarmState::normal, held);
    s.rig.values[kWater] = 17.3;  // it does not warm
    s.rig.run(minutes{30});
    EXPECT_EQ(s.rig.alarm(Alarm::water_off_band), AlarmState::unacknowledged);
  }
}

}  // namespace
}  // namespace neap
