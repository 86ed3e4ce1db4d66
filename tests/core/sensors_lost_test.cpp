// Goal: every sensor lost at once, for half a day: no water moves, the air keeps moving, the light
// keeps its hours, the roots' clock speaks, and all is well again when they are back (hazards S10).
// Method: the whole scan on the rig.
#include <gtest/gtest.h>

#include "daemon/core/alarm_causes.h"
#include "tests/core/rig.h"

namespace neap::test {
namespace {

constexpr std::int32_t kMorning = 5 * 3600 + 1800;  // half an hour before lights-on

void silence_all(Rig& rig, bool on) {
  for (const PointInfo& row : kPoints)
    if (rig.plan.points[row.point]) rig.silence(row.point, on);
}

bool stands(const Rig& rig, Alarm alarm) { return rig.alarm(alarm) == AlarmState::unacknowledged; }

class AllSensorsLost : public ::testing::TestWithParam<BlindPolicy> {
 protected:
  Rig rig{plan(), kMorning};
  static Plan plan() {
    Plan plan = strawberry_plan();
    plan.table.blind = GetParam();
    return plan;
  }
  // A day of floods, then silence from 08:30 on.
  void SetUp() override {
    rig.run(hours{27});
    ASSERT_GE(rig.state.kept.flood_learnt.fills, 3);
    floods_ = rig.rows().size();
    silence_all(rig, true);
  }
  std::size_t floods_ = 0;
};

TEST_P(AllSensorsLost, ForHalfADayMovesNoWaterKeepsTheAirMovingAndSaysSo) {
  rig.run(minutes{2});
  rig.after_scan = [](const Rig& r) {
    ASSERT_FALSE(r.running(Output::pump));
    ASSERT_FALSE(r.running(Output::dehumidifier));
    ASSERT_EQ(r.level(Output::exhaust_fan), Permille{400}) << "its fallback";
    ASSERT_TRUE(r.running(Output::air_pump));
    ASSERT_TRUE(r.running(Output::circulation_fan));
    ASSERT_EQ(r.running(Output::light), r.state.day);
  };
  rig.run(hours{12});
  rig.after_scan = nullptr;
  EXPECT_EQ(rig.rows().size(), floods_);
  for (const Alarm alarm : {Alarm::canopy_lost, Alarm::room_lost, Alarm::leak_probe_fault,
                            Alarm::float_fault, Alarm::sensor_lost, Alarm::roots_dry})
    EXPECT_TRUE(stands(rig, alarm)) << info(alarm).name;
  EXPECT_EQ(root_cause(Alarm::roots_dry, rig.state.kept.alarms), Alarm::leak_probe_fault);
}

TEST_P(AllSensorsLost, EndsInAFloodWithinTheNextSlotOnceTheyAreBack) {
  rig.run(hours{12});
  silence_all(rig, false);
  ASSERT_TRUE(rig.run_until([&] { return rig.rows().size() > floods_; }, hours{12}));
  EXPECT_EQ(rig.rows().back().outcome, FloodOutcome::complete);
  rig.run(minutes{5});
  for (const AlarmInfo& row : kAlarms) EXPECT_FALSE(stands(rig, row.alarm)) << row.name;
  for (const LatchInfo& row : kLatches) EXPECT_FALSE(rig.latched(row.latch)) << row.name;
}

INSTANTIATE_TEST_SUITE_P(ByPolicy, AllSensorsLost,
                         ::testing::Values(BlindPolicy::withhold, BlindPolicy::timed));

TEST(AllSensorsLostInAFlood, StopsThePumpInItsScanAndLatchesNothing) {
  Rig rig{strawberry_plan(), kMorning};
  ASSERT_TRUE(rig.run_until([&] { return rig.running(Output::pump); }, hours{2}));
  rig.run(seconds{30});
  silence_all(rig, true);
  rig.run(seconds{11});
  EXPECT_FALSE(rig.running(Output::pump));
  silence_all(rig, false);
  rig.run(hours{6});
  EXPECT_FALSE(rig.rows().empty());
  EXPECT_EQ(rig.rows().back().outcome, FloodOutcome::complete);
  for (const LatchInfo& row : kLatches) EXPECT_FALSE(rig.latched(row.latch)) << row.name;
}

}  // namespace
}  // namespace neap::test
