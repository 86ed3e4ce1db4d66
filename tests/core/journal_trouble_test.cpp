// What the shell tells the core of the journal becomes an alarm that names the right cure.
#include <gtest/gtest.h>

#include "tests/core/rig.h"

namespace neap {
namespace {

using test::Rig;
using test::strawberry_plan;

Reason raised_for(const Rig& rig) {
  return rig.state.kept.alarms[static_cast<std::size_t>(Alarm::journal_trouble)].because.reason;
}

TEST(JournalTrouble, ALogThatAnotherProgramKeepsFromShrinkingIsAnAlarmOfItsOwnReason) {
  Rig rig{strawberry_plan(), 9 * 3600};
  rig.inputs.journal_log_grows = true;
  rig.run(minutes{2});
  EXPECT_EQ(rig.alarm(Alarm::journal_trouble), AlarmState::unacknowledged);
  EXPECT_EQ(raised_for(rig), Reason::journal_log_grows);
  EXPECT_TRUE(rig.running(Output::light)) << "control goes on";

  rig.inputs.journal_log_grows = false;
  rig.run(minutes{2});
  EXPECT_EQ(rig.alarm(Alarm::journal_trouble), AlarmState::returned);
}

TEST(JournalTrouble, AJournalThatCannotBeWrittenIsTheWorseOfTwoTroubles) {
  Rig rig{strawberry_plan(), 9 * 3600};
  rig.inputs.journal_trouble = true;
  rig.inputs.journal_log_grows = true;
  rig.run(minutes{2});
  EXPECT_EQ(rig.alarm(Alarm::journal_trouble), AlarmState::unacknowledged);
  EXPECT_EQ(raised_for(rig), Reason::journal_trouble);
}

}  // namespace
}  // namespace neap
