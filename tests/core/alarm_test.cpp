#include "daemon/core/alarm.h"

#include <gtest/gtest.h>

#include <cctype>
#include <set>
#include <vector>

namespace neap {
namespace {

constexpr Instant kStart = instant(Millis{4294967000});
constexpr Alarm kSlow = Alarm::canopy_lost;  // 60 s on, 10 s off, muted by service

// Every alarm's table under a hand that moves time and conditions.
class Alarms : public testing::Test {
 protected:
  void set(Alarm alarm, bool active, Reason why = Reason::no_canopy_reading) {
    conditions_[index(alarm)] = {active, because(why)};
  }
  void at(Millis after_start) {
    changes_.clear();
    now_ = kStart + after_start;
    run_alarms(table_, conditions_, service_, now_,
               [this](const AlarmChange& change) { changes_.push_back(change); });
  }
  AlarmState state(Alarm alarm) const { return table_[index(alarm)].state; }
  AlarmRecord& record(Alarm alarm) { return table_[index(alarm)]; }
  static std::size_t index(Alarm alarm) { return static_cast<std::size_t>(alarm); }

  AlarmTable table_{};
  Conditions conditions_{};
  bool service_ = false;
  Instant now_ = kStart;
  std::vector<AlarmChange> changes_;
};

TEST_F(Alarms, ALeakSpeaksInTheScanThatSeesIt) {
  set(Alarm::leak, true, Reason::leak_wet);
  at(seconds{0});
  ASSERT_EQ(changes_.size(), 1U);
  EXPECT_EQ(changes_[0].alarm, Alarm::leak);
  EXPECT_EQ(changes_[0].from, AlarmState::normal);
  EXPECT_EQ(changes_[0].to, AlarmState::unacknowledged);
  EXPECT_EQ(changes_[0].because.reason, Reason::leak_wet);
  EXPECT_EQ(record(Alarm::leak).raised, kStart);
}

TEST_F(Alarms, ASlowConditionSpeaksAtTheEndOfItsDelayAndNotBefore) {
  set(kSlow, true);
  at(seconds{0});
  EXPECT_TRUE(changes_.empty());
  EXPECT_EQ(next_alarm_deadline(table_), kStart + seconds{60});
  at(Millis{59999});
  EXPECT_TRUE(changes_.empty());
  at(seconds{60});
  EXPECT_EQ(state(kSlow), AlarmState::unacknowledged);
  EXPECT_EQ(record(kSlow).raised_count, 1U);
}

TEST_F(Alarms, AGapInTheConditionStartsTheDelayAnew) {
  set(kSlow, true);
  at(seconds{0});
  set(kSlow, false);
  at(seconds{50});
  set(kSlow, true);
  at(seconds{51});
  at(seconds{110});
  EXPECT_EQ(state(kSlow), AlarmState::normal);
  at(seconds{111});
  EXPECT_EQ(state(kSlow), AlarmState::unacknowledged);
}

TEST_F(Alarms, AcknowledgedThenClearedGoesBackToNormalAfterTheOffDelay) {
  set(kSlow, true);
  at(seconds{0});
  at(seconds{60});
  EXPECT_TRUE(acknowledge(record(kSlow)));
  EXPECT_EQ(state(kSlow), AlarmState::acknowledged);
  set(kSlow, false);
  at(seconds{100});
  EXPECT_EQ(next_alarm_deadline(table_), kStart + seconds{110});
  EXPECT_EQ(state(kSlow), AlarmState::acknowledged);
  at(seconds{110});
  EXPECT_EQ(state(kSlow), AlarmState::normal);
}

TEST_F(Alarms, ClearedBeforeAnybodyLookedItStaysToBeSeen) {
  set(kSlow, true);
  at(seconds{0});
  at(seconds{60});
  set(kSlow, false);
  at(seconds{100});
  at(seconds{110});
  EXPECT_EQ(state(kSlow), AlarmState::returned);
  at(hours{9});
  EXPECT_EQ(state(kSlow), AlarmState::returned);
  EXPECT_TRUE(acknowledge(record(kSlow)));
  EXPECT_EQ(state(kSlow), AlarmState::normal);
}

TEST_F(Alarms, AReturnedAlarmIsRaisedAgainAndCounted) {
  set(Alarm::leak, true, Reason::leak_wet);
  at(seconds{0});
  set(Alarm::leak, false);
  at(seconds{1});
  ASSERT_EQ(state(Alarm::leak), AlarmState::returned);
  set(Alarm::leak, true, Reason::leak_latched);
  at(seconds{2});
  EXPECT_EQ(state(Alarm::leak), AlarmState::unacknowledged);
  EXPECT_EQ(record(Alarm::leak).raised_count, 2U);
  EXPECT_EQ(record(Alarm::leak).because.reason, Reason::leak_latched);
}

TEST_F(Alarms, AnAcknowledgedAlarmStaysQuietWhileItsCauseLasts) {
  set(Alarm::leak, true, Reason::leak_wet);
  at(seconds{0});
  acknowledge(record(Alarm::leak));
  for (int s = 1; s < 100; ++s) {
    at(seconds{s});
    ASSERT_TRUE(changes_.empty());
  }
  EXPECT_EQ(state(Alarm::leak), AlarmState::acknowledged);
}

TEST_F(Alarms, TheReasonStaysReadableAfterTheCauseIsGone) {
  set(Alarm::leak, true, Reason::leak_wet);
  at(seconds{0});
  set(Alarm::leak, false, Reason::none);
  at(seconds{1});
  EXPECT_EQ(record(Alarm::leak).because.reason, Reason::leak_wet);
}

TEST_F(Alarms, AcknowledgingChangesNothingWhereThereIsNothingToAcknowledge) {
  for (const AlarmState s : {AlarmState::normal, AlarmState::acknowledged, AlarmState::shelved,
                             AlarmState::suppressed}) {
    record(kSlow).state = s;
    EXPECT_FALSE(acknowledge(record(kSlow)));
    EXPECT_EQ(state(kSlow), s);
  }
}

TEST_F(Alarms, AShelvedAlarmIsSilentUntilItsTimeAndThenSpeaksIfTheCauseLasts) {
  set(kSlow, true);
  at(seconds{0});
  at(seconds{60});
  record(kSlow).state = AlarmState::shelved;
  record(kSlow).shelved_until = kStart + minutes{30};
  EXPECT_EQ(next_alarm_deadline(table_), kStart + minutes{30});
  at(minutes{29});
  EXPECT_TRUE(changes_.empty());
  at(minutes{30});
  EXPECT_EQ(state(kSlow), AlarmState::unacknowledged);
  EXPECT_EQ(record(kSlow).raised_count, 2U);
}

TEST_F(Alarms, AShelfThatRunsOutOverAClearedCauseLeavesNothing) {
  record(kSlow).state = AlarmState::shelved;
  record(kSlow).shelved_until = kStart + minutes{30};
  at(minutes{30});
  EXPECT_EQ(state(kSlow), AlarmState::normal);
  ASSERT_EQ(changes_.size(), 1U);
  EXPECT_EQ(changes_[0].from, AlarmState::shelved);
}

TEST_F(Alarms, ServiceSuppressesWhatItDisturbs) {
  service_ = true;
  set(kSlow, true);
  at(seconds{0});
  EXPECT_EQ(state(kSlow), AlarmState::suppressed);
  at(minutes{20});
  EXPECT_TRUE(changes_.empty());
}

TEST_F(Alarms, ServiceNeverSuppressesALeak) {
  service_ = true;
  set(Alarm::leak, true, Reason::leak_wet);
  at(seconds{0});
  EXPECT_EQ(state(Alarm::leak), AlarmState::unacknowledged);
}

TEST_F(Alarms, ServiceSuppressesAStandingAlarmThatItDisturbs) {
  set(kSlow, true);
  at(seconds{0});
  at(seconds{60});
  service_ = true;
  at(seconds{61});
  EXPECT_EQ(state(kSlow), AlarmState::suppressed);
}

TEST_F(Alarms, ServiceKeepsAReturnedAlarmToBeSeen) {
  record(kSlow).state = AlarmState::returned;
  service_ = true;
  at(seconds{0});
  service_ = false;
  at(minutes{20});
  EXPECT_EQ(state(kSlow), AlarmState::returned);
}

TEST_F(Alarms, AFlutterUnderServiceIsOneTransitionNotMany) {
  service_ = true;
  int told = 0;
  for (int s = 0; s < 60; ++s) {
    set(kSlow, s % 2 == 0);
    at(seconds{s});
    told += static_cast<int>(changes_.size());
  }
  EXPECT_EQ(told, 1);
  EXPECT_EQ(state(kSlow), AlarmState::suppressed);
}

TEST_F(Alarms, AfterServiceTheDelayStartsAnewSoThatTheAirMaySettle) {
  service_ = true;
  set(kSlow, true);
  at(seconds{0});
  service_ = false;
  at(minutes{20});
  EXPECT_EQ(state(kSlow), AlarmState::normal);
  EXPECT_EQ(next_alarm_deadline(table_), kStart + minutes{20} + seconds{60});
  at(minutes{20} + seconds{60});
  EXPECT_EQ(state(kSlow), AlarmState::unacknowledged);
}

TEST_F(Alarms, AfterServiceAnAlarmWithoutDelaySpeaksAtOnce) {
  service_ = true;
  set(Alarm::flood_withheld, true, Reason::service_holds);
  at(seconds{0});
  ASSERT_EQ(state(Alarm::flood_withheld), AlarmState::suppressed);
  service_ = false;
  at(minutes{20});
  EXPECT_EQ(state(Alarm::flood_withheld), AlarmState::unacknowledged);
}

TEST_F(Alarms, AShelfOutlastsAService) {
  record(kSlow).state = AlarmState::shelved;
  record(kSlow).shelved_until = kStart + hours{1};
  service_ = true;
  set(kSlow, true);
  at(seconds{0});
  service_ = false;
  at(minutes{20});
  EXPECT_EQ(state(kSlow), AlarmState::shelved);
}

TEST_F(Alarms, WithNothingPendingThereIsNoDeadline) {
  at(seconds{0});
  EXPECT_EQ(next_alarm_deadline(table_), Instant::max());
  set(Alarm::leak, true);
  at(seconds{1});
  EXPECT_EQ(next_alarm_deadline(table_), Instant::max());
}

// The scan may sleep until the deadline: waking only then must decide at the same instants.
TEST_F(Alarms, SteppingEverySecondAndSteppingAtDeadlinesAgree) {
  AlarmTable every_second{}, at_deadlines{};
  Instant wake = kStart;
  for (int s = 0; s < 4000; ++s) {
    const Instant now = kStart + seconds{s};
    bool input_changed = false;
    for (std::size_t i = 0; i < kAlarmCount; ++i) {
      const int period = 37 + 53 * static_cast<int>(i);
      const bool active = s / period % 3 == 1;
      input_changed |= active != conditions_[i].active;
      conditions_[i] = {active, because(Reason::safe_state)};
    }
    const bool service = s / 700 % 2 == 1;
    input_changed |= service != service_;
    service_ = service;
    const auto ignore = [](const AlarmChange&) {};
    run_alarms(every_second, conditions_, service, now, ignore);
    if (input_changed || now >= wake) {
      run_alarms(at_deadlines, conditions_, service, now, ignore);
      wake = next_alarm_deadline(at_deadlines);
    }
    for (std::size_t i = 0; i < kAlarmCount; ++i) {
      ASSERT_EQ(every_second[i].state, at_deadlines[i].state) << kAlarms[i].name << " at " << s;
      ASSERT_EQ(every_second[i].raised, at_deadlines[i].raised) << kAlarms[i].name << " at " << s;
    }
  }
}

TEST(AlarmList, EveryRowStandsAtItsOwnNumber) {
  for (std::size_t i = 0; i < kAlarmCount; ++i)
    EXPECT_EQ(static_cast<std::size_t>(kAlarms[i].alarm), i) << kAlarms[i].name;
}

TEST(AlarmList, NamesAreUniqueAndTypedWithoutAShift) {
  std::set<std::string_view> names, titles;
  for (const AlarmInfo& row : kAlarms) {
    EXPECT_TRUE(names.insert(row.name).second) << row.name;
    EXPECT_TRUE(titles.insert(row.title).second) << row.title;
    for (const char c : row.name) EXPECT_TRUE(std::islower(c) || c == '-') << row.name;
  }
}

TEST(AlarmList, EveryRowTellsAPersonWhatToDo) {
  for (const AlarmInfo& row : kAlarms) {
    EXPECT_GE(row.remedy.size(), 20U) << row.name;
    EXPECT_NE(row.remedy.back(), '.') << row.name;
  }
}

TEST(AlarmList, WaterOnTheFloorIsHighUndelayedAndNeverMuted) {
  for (const Alarm alarm : {Alarm::leak, Alarm::tray_overflow, Alarm::lost_water}) {
    EXPECT_EQ(info(alarm).priority, Priority::high);
    EXPECT_EQ(info(alarm).on_delay, Millis{0});
    EXPECT_FALSE(info(alarm).muted_by_service);
  }
}

}  // namespace
}  // namespace neap
