// Goal: a lamp that failed is told where a light sensor is fitted, and nothing else that is dark.
// Method: the whole scan on the rig; the sensor says what the test has the lamp do.
#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr std::int32_t kMorning = 5 * 3600 + 1800;  // half an hour before lights-on
constexpr double kLamp = 20000;                     // lx
constexpr double kNight = 3;

Plan with_light_sensor() {
  Plan plan = strawberry_plan();
  plan.points[Point::light_level] = sampled_every(seconds{10});
  return plan;
}

// The lamp shines as it is told unless it is broken.
Rig lit(Plan plan, const bool& broken) {
  Rig rig{std::move(plan), kMorning};
  rig.air = [&broken](Rig& r) {
    const bool shines = r.running(Output::light) && !broken;
    r.values[Point::light_level] = shines ? kLamp : kNight;
  };
  return rig;
}

TEST(LightOut, ALampThatFailsByDayIsToldAfterAQuarterOfAnHourAndOverWhenItShines) {
  bool broken = false;
  Rig rig = lit(with_light_sensor(), broken);
  rig.run(hours{3});
  EXPECT_EQ(rig.alarm(Alarm::light_out), AlarmState::normal);
  broken = true;
  rig.run(minutes{14});
  EXPECT_EQ(rig.alarm(Alarm::light_out), AlarmState::normal) << "a hot lamp may strike again";
  rig.run(minutes{2});
  EXPECT_EQ(rig.alarm(Alarm::light_out), AlarmState::unacknowledged);
  const Because& why = rig.state.kept.alarms[static_cast<std::size_t>(Alarm::light_out)].because;
  EXPECT_EQ(why, because(Reason::light_out, kNight));
  broken = false;
  rig.run(minutes{3});
  EXPECT_EQ(rig.alarm(Alarm::light_out), AlarmState::returned);
}

TEST(LightOut, ALampThatDoesNotComeOnInTheMorningIsTold) {
  const bool broken = true;
  Rig rig = lit(with_light_sensor(), broken);
  rig.run(minutes{44});  // 06:14
  EXPECT_EQ(rig.alarm(Alarm::light_out), AlarmState::normal);
  rig.run(minutes{2});
  EXPECT_EQ(rig.alarm(Alarm::light_out), AlarmState::unacknowledged);
}

TEST(LightOut, ANightASilentSensorADimLampAndAnotherHandAreNone) {
  const bool broken = true;
  Rig night = lit(with_light_sensor(), broken);
  night.run(minutes{29});
  EXPECT_EQ(night.alarm(Alarm::light_out), AlarmState::normal);

  Rig silent = lit(with_light_sensor(), broken);
  silent.silence(Point::light_level);
  silent.run(hours{2});
  EXPECT_EQ(silent.alarm(Alarm::light_out), AlarmState::normal);

  Plan dim = with_light_sensor();
  dim.outputs[Output::light]->variable = true;
  dim.programme.stages[0].light_level = Permille{150};
  Rig seedlings = lit(dim, broken);
  seedlings.run(hours{2});
  EXPECT_TRUE(seedlings.running(Output::light));
  EXPECT_EQ(seedlings.alarm(Alarm::light_out), AlarmState::normal);

  Plan theirs = with_light_sensor();
  theirs.outputs[Output::light]->driven = false;
  Rig timer = lit(theirs, broken);
  timer.run(hours{2});
  EXPECT_EQ(timer.alarm(Alarm::light_out), AlarmState::normal);
}

}  // namespace
}  // namespace neap::test
