// Goal: the core remembers the newest hand measurement of each kind, whatever order they come in.
#include "daemon/core/hand.h"

#include <gtest/gtest.h>

#include "daemon/core/event.h"
#include "daemon/core/state.h"

namespace neap {
namespace {

constexpr std::int64_t kMorning = 1'780'300'000'123;

HandNote told(Hand hand, double value, std::int64_t taken, std::uint64_t id) {
  return {hand, value, false, taken, id};
}
HandNote amended(Hand hand, std::optional<double> value, std::uint64_t id) {
  return {hand, value, true, 0, id};
}

struct Hands : ::testing::Test {
  void take(const HandNote& note) { take_hand_note(state, note, events); }
  const HandReading& ph() const { return state.kept.hands[0]; }
  State state;
  Events events;
};

TEST_F(Hands, TheNewestCountsAlsoWhenAnOlderOneIsToldLater) {
  take(told(Hand::ph, 5.9, kMorning, 11));
  take(told(Hand::ph, 6.4, kMorning - 60'000, 12));
  EXPECT_EQ(ph().value, 5.9);
  EXPECT_EQ(events.size(), 2u);
  EXPECT_EQ(events[1].kind, EventKind::hand_measurement);
  EXPECT_EQ(events[1].because, because(Reason::hand_ph, 6.4));
}

TEST_F(Hands, OneToldTwiceDoesNotUndoItsCorrection) {
  take(told(Hand::ph, 5.9, kMorning, 11));
  take(amended(Hand::ph, 6.0, 11));
  take(told(Hand::ph, 5.9, kMorning, 11));
  EXPECT_EQ(ph().value, 6.0);
  EXPECT_EQ(ph().taken_unix_ms, kMorning);
}

TEST_F(Hands, ACorrectionOfAnOlderOneChangesNothing) {
  take(told(Hand::ph, 5.9, kMorning, 11));
  take(amended(Hand::ph, 7.0, 10));
  EXPECT_EQ(ph().value, 5.9);
}

TEST_F(Hands, WithdrawingTheNewestLeavesNone) {
  take(told(Hand::ph, 5.9, kMorning, 11));
  take(amended(Hand::ph, std::nullopt, 11));
  EXPECT_FALSE(ph().known);
  EXPECT_EQ(events[1].because.reason, Reason::hand_withdrawn);
}

TEST_F(Hands, ADoseOfAcidIsNoReading) {
  take(told(Hand::ph_down, 3, kMorning, 11));
  EXPECT_TRUE(events.empty());
}

// The clock was ahead when the first was told, and is right when the second is.
TEST_F(Hands, OneDatedByAClockThatWasAheadGivesWay) {
  take(told(Hand::ph, 5.9, kMorning + 86'400'000, 11));
  take(told(Hand::change, 60, kMorning + 86'400'000, 12));
  take(told(Hand::topup, 4, kMorning + 86'400'001, 13));
  state.last_wall = {kMorning + 5, 0, TimeQuality::restored};
  take(told(Hand::ph, 6.3, kMorning, 14));
  EXPECT_EQ(ph().value, 5.9) << "a clock that nobody confirms may itself be behind";
  state.last_wall.quality = TimeQuality::synced;
  take(told(Hand::ph, 6.4, kMorning, 15));
  EXPECT_EQ(ph().value, 6.4);
  take(told(Hand::topup, 3, kMorning, 16));
  EXPECT_EQ(state.kept.solution_age.replaced_l, 7);
  take(told(Hand::change, 60, kMorning, 17));
  EXPECT_EQ(state.kept.solution_age.changed_unix_ms, kMorning);
}

TEST(HandTable, RowsStandAtTheirOwnNumbers) {
  for (std::size_t i = 0; i < kHandCount; ++i) {
    EXPECT_EQ(static_cast<std::size_t>(kHands[i].hand), i);
    EXPECT_EQ(find_hand(kHands[i].name), &kHands[i]);
  }
}

}  // namespace
}  // namespace neap
