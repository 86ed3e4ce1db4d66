// Goal: what a grower is told is worth telling: one alarm for one trouble. Method: the whole scan
// on the rig.
#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

TEST(AlarmStories, AHotAfternoonThatSwingsAboutItsLimitIsOneAlarm) {
  Rig rig{strawberry_plan(), 12 * 3600};
  rig.scan_now();
  const double limit = rig.state.targets.air_highest.value;
  rig.air = [&](Rig& r) {  // over and under the alarm's 1 K by turns of five minutes
    const auto turn = tick_ms(r.now) / 300'000 % 2;
    r.values[Point::canopy_temperature] =
        limit + (turn == 0 ? 1.4 : -0.4) + static_cast<double>(tick_ms(r.now) % 7) / 100;
  };
  rig.run(hours{5});
  EXPECT_EQ(rig.state.kept.alarms[static_cast<std::size_t>(Alarm::over_temperature)].raised_count,
            1u);
  rig.air = nullptr;
  rig.values[Point::canopy_temperature] = limit - 2;
  rig.run(minutes{32});
  EXPECT_EQ(rig.alarm(Alarm::over_temperature), AlarmState::returned);
}

}  // namespace
}  // namespace neap::test
