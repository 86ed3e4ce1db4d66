// Goal: an air pump that is driven and stands is told in a minute, with the
// time its roots have.
#include <gtest/gtest.h>

#include "daemon/core/oxygen.h"
#include "tests/core/rig.h"

namespace neap::test {
namespace {

struct WithProof : Rig {
  WithProof() : Rig{plan_of(), 7 * 3600} {
    values[Point::solution_temperature] = 20;
    contact(Point::air_pump_running, Contact::set);
    run(minutes{2});
  }
  static Plan plan_of() {
    Plan plan = strawberry_plan();
    plan.points[Point::air_pump_running] = sampled_every(seconds{10});
    plan.points[Point::solution_temperature] = sampled_every(seconds{10});
    return plan;
  }
  Because told() const {
    return state.kept.alarms[static_cast<std::size_t>(Alarm::air_pump_stands)].because;
  }
};

TEST(AirPump, ThatStandsIsToldInAMinuteWithTheHoursThatTheRootsHave) {
  WithProof rig;
  rig.contact(Point::air_pump_running, Contact::clear);
  rig.run(seconds{50});
  EXPECT_EQ(rig.alarm(Alarm::air_pump_stands), AlarmState::normal);
  rig.run(seconds{20});
  EXPECT_EQ(rig.alarm(Alarm::air_pump_stands), AlarmState::unacknowledged);
  EXPECT_EQ(rig.told().args[0], 20);
  const double first = rig.told().args[1];
  EXPECT_NEAR(first, 7 * 3600, 120);  // (9.09 - 2.1) mg/L at 1 mg/L an hour
  rig.run(hours{2});
  EXPECT_NEAR(rig.told().args[1], first - 2 * 3600, 120);
  rig.run(hours{8});
  EXPECT_EQ(rig.told().args[1], 0);
  rig.contact(Point::air_pump_running, Contact::set);
  rig.run(minutes{1});
  EXPECT_EQ(rig.alarm(Alarm::air_pump_stands), AlarmState::returned);
}

TEST(AirPump, WarmWaterLeavesLessTime) {
  EXPECT_LT(*oxygen_lasts(Celsius{28}), *oxygen_lasts(Celsius{20}) / 2);
  EXPECT_EQ(oxygen_lasts(Celsius{60}), std::nullopt);
}

TEST(AirPump, WithoutItsProofNothingIsClaimed) {
  for (const bool silent : {false, true}) {
    Plan plan = strawberry_plan();
    if (silent) plan.points[Point::air_pump_running] = sampled_every(seconds{10});
    Rig rig{plan, 7 * 3600};
    if (silent) rig.silence(Point::air_pump_running);
    rig.run(minutes{10});
    EXPECT_EQ(rig.alarm(Alarm::air_pump_stands), AlarmState::normal);
  }
}

}  // namespace
}  // namespace neap::test
