// Goal: no pump starts on a supply that is low, and a supply that the pump
// draws down is told.
#include "daemon/core/supply.h"

#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap::test {
namespace {

Request hold(Millis span) {
  return {.kind = RequestKind::hold, .output = Output::pump, .level = kRunning, .duration = span};
}

struct WithSupply : Rig {
  WithSupply() : Rig{plan_of(), 7 * 3600, Stepping::each_second} { run(seconds{10}); }
  static Plan plan_of() {
    Plan plan = strawberry_plan();
    plan.programme.stages[0].floods.rule = SlotRule::none;
    plan.points[Point::board_undervoltage] = sampled_every(seconds{10});
    return plan;
  }
  void low(bool is) { contact(Point::board_undervoltage, is ? Contact::set : Contact::clear); }
  // Starts the pump, which draws the supply down `after` its start.
  void start(Millis after) {
    ask(hold(seconds{20}));
    run(after);
    low(true);
    run(seconds{2});
    low(false);
    run(minutes{10});
  }
};

TEST(Supply, ALowOneDefersThePumpForAMinuteAndIsTold) {
  WithSupply rig;
  rig.low(true);
  const Event refused = rig.ask({.kind = RequestKind::flood_start});
  EXPECT_FALSE(refused.accepted);
  EXPECT_EQ(refused.because.reason, Reason::supply_low);
  EXPECT_EQ(rig.alarm(Alarm::supply_low), AlarmState::unacknowledged);
  rig.low(false);
  rig.run(seconds{58});
  EXPECT_FALSE(rig.ask({.kind = RequestKind::flood_start}).accepted);
  rig.run(seconds{2});
  EXPECT_TRUE(rig.ask({.kind = RequestKind::flood_start}).accepted);
}

TEST(Supply, ThatSagsUnderAPumpThatRunsDoesNotStopIt) {
  WithSupply rig;
  rig.ask(hold(minutes{2}));
  rig.run(seconds{30});
  rig.low(true);
  rig.run(seconds{10});
  EXPECT_TRUE(rig.running(Output::pump));
}

TEST(Supply, ThatSagsAtTheFourthStartOfADayIsAnAlarmForADay) {
  WithSupply rig;
  for (int i = 0; i < kSagsTold; ++i) rig.start(seconds{1});
  EXPECT_EQ(rig.alarm(Alarm::supply_sags), AlarmState::normal);
  rig.start(seconds{1});
  EXPECT_EQ(rig.alarm(Alarm::supply_sags), AlarmState::unacknowledged);
  EXPECT_EQ(info(Alarm::supply_sags).priority, Priority::high);
  rig.run(hours{24});
  EXPECT_EQ(rig.alarm(Alarm::supply_sags), AlarmState::returned);
}

TEST(Supply, ThatSagsLongAfterTheStartIsNotThePumpsDoing) {
  WithSupply rig;
  for (int i = 0; i <= kSagsTold; ++i) rig.start(seconds{10});
  EXPECT_EQ(rig.state.kept.supply_sags.count, 0);
}

TEST(Supply, WithoutItsContactNothingIsClaimed) {
  Rig rig{strawberry_plan(), 7 * 3600};
  rig.run(minutes{1});
  EXPECT_FALSE(rig.state.kernel_inputs.supply_low);
  EXPECT_TRUE(rig.ask({.kind = RequestKind::flood_start}).accepted);
}

}  // namespace
}  // namespace neap::test
