#include "daemon/core/instant.h"

#include <gtest/gtest.h>

namespace neap {
namespace {

// Just under 2^32 ms: whoever keeps ticks in 32 bits is found out.
constexpr Instant kStart = instant(Millis{4294967000});

template <class Clock>
concept TellsTheTime = requires {
  Clock::now();
};

TEST(Instant, TheCoreCannotAskForTheTime) { static_assert(!TellsTheTime<TickClock>); }

TEST(Instant, TicksPassThirtyTwoBitsUnharmed) {
  EXPECT_EQ(tick_ms(kStart + seconds{1}), 4294968000);
  EXPECT_LT(kStart, kStart + Millis{296});
}

TEST(Instant, TheNextWholeSecondIsNeverEarlierAndLessThanASecondAway) {
  EXPECT_EQ(next_whole_second(kStart), kStart);
  EXPECT_EQ(next_whole_second(kStart + Millis{1}), kStart + seconds{1});
  EXPECT_EQ(next_whole_second(kStart + Millis{999}), kStart + seconds{1});
  for (std::int64_t ms = -2500; ms <= 2500; ++ms) {
    const std::int64_t up = tick_ms(next_whole_second(instant(Millis{ms})));
    ASSERT_EQ(up % 1000, 0) << ms;
    ASSERT_GE(up, ms);
    ASSERT_LT(up, ms + 1000);
  }
}

WallTime wall(std::int64_t unix_s, std::int32_t offset_s) {
  return {unix_s * 1000, offset_s, TimeQuality::synced};
}

// 2026-06-01 is day 20605 since 1970-01-01 (date -d 2026-06-01 +%s / 86400).
constexpr std::int64_t kJuneFirst = 20605LL * kSecondsPerDay;

TEST(CivilTime, FollowsTheOffsetIntoTheNextAndThePreviousDay) {
  EXPECT_EQ(civil_of(wall(kJuneFirst, 0)), (CivilTime{20605, 0}));
  EXPECT_EQ(civil_of(wall(kJuneFirst, 7200)), (CivilTime{20605, 7200}));
  EXPECT_EQ(civil_of(wall(kJuneFirst, -1)), (CivilTime{20604, 86399}));
  EXPECT_EQ(civil_of(wall(kJuneFirst + 86399, 1)), (CivilTime{20606, 0}));
}

TEST(CivilTime, RoundsDownBefore1970Too) {
  EXPECT_EQ(civil_of({-1, 0, TimeQuality::synced}), (CivilTime{-1, 86399}));
  EXPECT_EQ(civil_of({-1000, 0, TimeQuality::synced}), (CivilTime{-1, 86399}));
  EXPECT_EQ(civil_of({-1001, 0, TimeQuality::synced}), (CivilTime{-1, 86398}));
  EXPECT_EQ(civil_of({999, 0, TimeQuality::synced}), (CivilTime{0, 0}));
}

TEST(CivilTime, SecondsBetweenAreSignedAndSpanDays) {
  const CivilTime evening{20605, 86000};
  const CivilTime morning{20606, 21600};
  EXPECT_EQ(civil_seconds_between(evening, morning), 22000);
  EXPECT_EQ(civil_seconds_between(morning, evening), -22000);
  EXPECT_EQ(civil_seconds_between({0, 0}, {30000, 0}), 30000LL * 86400);
}

TEST(CivilTime, OrdersByDateFirst) {
  EXPECT_LT((CivilTime{1, 86399}), (CivilTime{2, 0}));
  EXPECT_LT((CivilTime{2, 0}), (CivilTime{2, 1}));
}

}  // namespace
}  // namespace neap
