// Goal: what comes by the clock comes once, whatever the wall clock does, and silence is noticed.
#include <gtest/gtest.h>

#include "daemon/tell/clockwork.h"

namespace neap::tell {
namespace {

constexpr std::int32_t kEight = 8 * 3600;
constexpr std::int64_t kMinute = 60'000;

Now at(std::int64_t steady_ms) { return {1'780'000'000'000, steady_ms}; }

TEST(TellClock, TheLineOfADayIsDueOnceFromItsHourOn) {
  EXPECT_FALSE(daily_due(20'000, {20'001, kEight - 1}, kEight));
  EXPECT_TRUE(daily_due(20'000, {20'001, kEight}, kEight));
  EXPECT_FALSE(daily_due(20'001, {20'001, kEight + 60}, kEight));
  EXPECT_TRUE(daily_due(std::nullopt, {20'001, kEight}, kEight));
}

TEST(TellClock, AClockSetBackByAnHourRepeatsNoLine) {
  EXPECT_FALSE(daily_due(20'001, {20'001, kEight}, kEight));
  EXPECT_FALSE(daily_due(20'001, {20'000, 23 * 3600}, kEight)) << "over midnight";
}

TEST(TellClock, AClockThatWasAYearAheadSilencesNoYear) {
  EXPECT_TRUE(daily_due(20'001 + 365, {20'002, kEight}, kEight));
}

TEST(TellClock, HeartbeatsComeByTheSteadyClock) {
  Beat beat;
  EXPECT_TRUE(beat.due(minutes{10}, at(0)));
  EXPECT_FALSE(beat.due(minutes{10}, {0, 10 * kMinute - 1}));
  EXPECT_TRUE(beat.due(minutes{10}, {0, 10 * kMinute}));
  EXPECT_FALSE(beat.due(minutes{10}, {4'000'000'000'000, 11 * kMinute}));
}

TEST(TellClock, FiveMinutesWithoutAnEntryAreSilence) {
  Pulse pulse;
  EXPECT_EQ(pulse.look(100, at(0)), Pulse::Change::none);
  EXPECT_EQ(pulse.look(200, at(kMinute)), Pulse::Change::none);
  EXPECT_EQ(pulse.look(200, at(6 * kMinute - 1)), Pulse::Change::none);
  EXPECT_EQ(pulse.look(200, at(6 * kMinute)), Pulse::Change::fell_silent);
  EXPECT_EQ(pulse.look(200, at(60 * kMinute)), Pulse::Change::none) << "told once";
  EXPECT_TRUE(pulse.silent());
  EXPECT_EQ(pulse.look(300, at(61 * kMinute)), Pulse::Change::came_back);
  EXPECT_FALSE(pulse.silent());
}

TEST(TellClock, AJournalThatIsNotThereIsSilenceToo) {
  Pulse pulse;
  EXPECT_EQ(pulse.look(std::nullopt, at(0)), Pulse::Change::none);
  EXPECT_EQ(pulse.look(std::nullopt, at(5 * kMinute)), Pulse::Change::fell_silent);
  EXPECT_EQ(pulse.look(7, at(6 * kMinute)), Pulse::Change::came_back);
}

TEST(TellClock, AJournalThatBecomesUnreadableFallsSilent) {
  Pulse pulse;
  pulse.look(100, at(0));
  EXPECT_EQ(pulse.look(std::nullopt, at(5 * kMinute)), Pulse::Change::fell_silent);
}

}  // namespace
}  // namespace neap::tell
