// Goal: what fails around the board is met without a hand: a sensor bus that
// hangs, a supply that sags, an air pump that stands. Method: the demo with the
// parts that tell of it; the real daemon.
#include <gtest/gtest.h>

#include "daemon/core/limits.h"
#include "daemon/core/rail.h"
#include "daemon/core/supply.h"
#include "tests/scenarios/grow.h"

namespace neap::scenarios {
namespace {

constexpr Millis kFirstSlot = minutes{45};

std::string with_contact(const std::string& channel, const std::string& point) {
  const std::string last = "      bucket_full: bucket.full\n";
  return quiet_demo({{last, last + "      " + channel + ": " + point + "\n"}});
}

std::string with_rail() {
  return quiet_demo(
      {{"  pump:\n    driver: simulated\n",
        "  pump:\n    driver: simulated\n"
        "  sensor_rail:\n    driver: simulated\n"},
       {"    frozen_after: 30 min\n", "    frozen_after: 30 min\n    on_rail: true\n"},
       {"    every: 30 s\n", "    every: 30 s\n    on_rail: true\n"}});
}

TEST(SensorRail, BringsAHangingBusBackByItself) {
  Grow grow(with_rail());
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(minutes{10});
  ASSERT_TRUE(grow.fault("bus_stuck", true));
  EXPECT_TRUE(grow.run_until([&] { return grow.level(Output::sensor_rail) == kStopped; },
                             2 * limits::kBadAfter + kRailAllSilent + minutes{1}));
  EXPECT_TRUE(grow.run_until(
      [&] { return grow.state().points[Point::canopy_temperature].reading.usable(); }, minutes{6}));
  EXPECT_EQ(grow.level(Output::sensor_rail), kRunning);
  grow.run_for(hours{1});
  EXPECT_EQ(grow.state().rail.tries, 0);
  EXPECT_FALSE(grow.alarm_stands(Alarm::canopy_lost));
}

TEST(SensorRail, IsLeftAloneForADayWithoutFaults) {
  Grow grow(with_rail());
  ASSERT_EQ(grow.problem(), "");
  bool off = false;
  grow.run_until([&] { return off = off || grow.level(Output::sensor_rail) == kStopped; },
                 hours{24});
  EXPECT_FALSE(off);
}

TEST(Supply, ThatSagsAtEachStartIsToldAfterADayOfFloods) {
  Grow grow(with_contact("board_undervoltage", "board.undervoltage"));
  ASSERT_EQ(grow.problem(), "");
  ASSERT_TRUE(grow.fault("supply_sags", true));
  grow.run_to(kFirstSlot + minutes{1});
  EXPECT_TRUE(grow.alarm_stands(Alarm::supply_low));
  EXPECT_TRUE(grow.truth().floats.pump_running) << "what runs goes on";
  grow.run_to(hours{20});
  EXPECT_EQ(grow.state().kept.supply_sags.count, 4);
  EXPECT_TRUE(grow.alarm_stands(Alarm::supply_sags));
  EXPECT_EQ(grow.state().kept.tally.floods_complete, 4);
}

TEST(AirPump, ThatDiesIsToldWithTheTimeThatTheRootsHave) {
  Grow grow(with_contact("air_pump_running", "air_pump.running"));
  ASSERT_EQ(grow.problem(), "");
  grow.run_to(minutes{10});
  EXPECT_FALSE(grow.alarm_stands(Alarm::air_pump_stands));
  ASSERT_TRUE(grow.fault("air_pump_dead", true));
  EXPECT_TRUE(
      grow.run_until([&] { return grow.alarm_stands(Alarm::air_pump_stands); }, seconds{70}));
  const AlarmRecord& told =
      grow.state().kept.alarms[static_cast<std::size_t>(Alarm::air_pump_stands)];
  EXPECT_GT(told.because.args[1], 2 * 3600);
}

}  // namespace
}  // namespace neap::scenarios
