// Goal: a storm of alarms is told by its causes, what follows beneath, nothing hidden (hazards X8).
#include "daemon/core/alarm_causes.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

namespace neap {
namespace {

AlarmTable raised(std::initializer_list<Alarm> alarms) {
  AlarmTable table;
  for (const Alarm alarm : alarms)
    table[static_cast<std::size_t>(alarm)].state = AlarmState::unacknowledged;
  return table;
}

std::vector<Alarm> told(const AlarmTable& table) {
  std::vector<Alarm> list;
  for (const Alarm alarm : causes_first(table))
    if (is_raised(table[static_cast<std::size_t>(alarm)])) list.push_back(alarm);
  return list;
}

TEST(AlarmCauses, ALeakIsToldFirstAndTheThirstThatFollowsBeneathIt) {
  const AlarmTable table = raised({Alarm::roots_dry, Alarm::flood_missed, Alarm::leak,
                                   Alarm::fan_dead, Alarm::humidity_high, Alarm::room_lost});
  EXPECT_EQ(told(table), (std::vector{Alarm::leak, Alarm::flood_missed, Alarm::roots_dry,
                                      Alarm::fan_dead, Alarm::humidity_high, Alarm::room_lost}));
  EXPECT_EQ(root_cause(Alarm::roots_dry, table), Alarm::leak);
  EXPECT_EQ(root_cause(Alarm::leak, table), std::nullopt);
}

TEST(AlarmCauses, AChainIsFollowedToItsRoot) {
  const AlarmTable table =
      raised({Alarm::leak, Alarm::lost_water, Alarm::reservoir_low, Alarm::flood_withheld});
  EXPECT_EQ(root_cause(Alarm::reservoir_low, table), Alarm::leak);
  EXPECT_EQ(root_cause(Alarm::flood_withheld, table), Alarm::leak);
  const AlarmTable dry = raised({Alarm::reservoir_low, Alarm::flood_withheld});
  EXPECT_EQ(root_cause(Alarm::flood_withheld, dry), Alarm::reservoir_low);
}

TEST(AlarmCauses, ACauseStandsAsHighAsTheWorstThatFollows) {
  for (const Alarm small : {Alarm::unproven, Alarm::pump_no_effect}) {
    const AlarmTable table = raised({small, Alarm::roots_dry, Alarm::over_temperature});
    EXPECT_EQ(told(table), (std::vector{small, Alarm::roots_dry, Alarm::over_temperature}));
  }
}

TEST(AlarmCauses, AnAlarmWithoutItsCauseStandsForItself) {
  const AlarmTable table = raised({Alarm::roots_dry});
  EXPECT_EQ(root_cause(Alarm::roots_dry, table), std::nullopt);
}

TEST(AlarmCauses, AShelvedOrReturnedCauseExplainsNothing) {
  AlarmTable table = raised({Alarm::roots_dry, Alarm::leak});
  for (const AlarmState state : {AlarmState::shelved, AlarmState::returned}) {
    table[static_cast<std::size_t>(Alarm::leak)].state = state;
    EXPECT_EQ(root_cause(Alarm::roots_dry, table), std::nullopt);
  }
}

// All raised at once: every alarm is told once, and following causes comes to an end.
TEST(AlarmCauses, NothingIsHiddenAndNoAlarmIsItsOwnCause) {
  AlarmTable table;
  for (AlarmRecord& record : table) record.state = AlarmState::acknowledged;
  const AlarmOrder order = causes_first(table);
  EXPECT_EQ(std::set<Alarm>(order.begin(), order.end()).size(), kAlarmCount);
  for (const Alarm alarm : order) {
    const auto root = root_cause(alarm, table);
    if (!root) continue;
    EXPECT_NE(*root, alarm);
    EXPECT_EQ(root_cause(*root, table), std::nullopt) << info(*root).name;
    EXPECT_LT(std::find(order.begin(), order.end(), *root),
              std::find(order.begin(), order.end(), alarm));
  }
}

}  // namespace
}  // namespace neap
