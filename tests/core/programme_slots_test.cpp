// The slots of the flood schedule. Expected times are worked out by hand beside each case.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdint>
#include <random>
#include <set>
#include <vector>

#include "daemon/core/programme.h"

namespace neap {
namespace {

using testing::ElementsAre;
using testing::IsEmpty;

constexpr std::int32_t kHour = 3600;
constexpr std::int32_t kMinute = 60;
constexpr std::int32_t kDate = 20605;  // 2026-06-01

std::int32_t clock_time(int hour, int minute = 0) { return hour * kHour + minute * kMinute; }

StagePlan lit(std::int32_t on_s, std::int32_t length_s, SlotRule rule) {
  StagePlan stage;
  stage.lights_on_s = on_s;
  stage.light_length_s = length_s;
  stage.floods.rule = rule;
  return stage;
}

FloodSlots slots_for(const ProgrammePlan& programme, const StagePlan& stage,
                     std::int32_t date = kDate) {
  FloodSlots slots;
  slots_of(programme, stage, date, slots);
  return slots;
}

// Starts in seconds from midnight of kDate.
std::vector<std::int64_t> starts(const FloodSlots& slots) {
  std::vector<std::int64_t> out;
  for (const FloodSlot& s : slots) out.push_back(civil_seconds_between({kDate, 0}, s.start));
  return out;
}

std::vector<int> numbers(const FloodSlots& slots) {
  std::vector<int> out;
  for (const FloodSlot& s : slots) out.push_back(s.id.number);
  return out;
}

TEST(Slots, AfterLightsOnAreSortedAndEachTimeCountsOnce) {
  StagePlan stage = lit(clock_time(6), 16 * kHour, SlotRule::after_lights_on);
  stage.floods.times_s = {8 * kHour, kHour, 8 * kHour};
  const FloodSlots slots = slots_for({}, stage);
  EXPECT_THAT(starts(slots), ElementsAre(clock_time(7), clock_time(14)));
  EXPECT_THAT(numbers(slots), ElementsAre(1, 2));
  EXPECT_EQ(slots[0].id.date, kDate);
  EXPECT_FALSE(slots[0].moved());
}

TEST(Slots, AfterLightsOnMayLieInTheNightButNotInTheNextPhotoperiod) {
  StagePlan stage = lit(clock_time(20), 12 * kHour, SlotRule::after_lights_on);
  stage.floods.times_s = {14 * kHour, 24 * kHour - 1, 24 * kHour};
  EXPECT_THAT(starts(slots_for({}, stage)), ElementsAre(clock_time(34), clock_time(44) - 1));
}

TEST(Slots, SpreadOverTheLightIncludeBothEnds) {
  StagePlan stage = lit(clock_time(6), 16 * kHour, SlotRule::spread);
  stage.floods.count = 4;
  stage.floods.first_after_s = kHour;
  stage.floods.last_before_s = 3 * kHour;  // 07:00 .. 19:00 in three steps of 4 h
  EXPECT_THAT(starts(slots_for({}, stage)),
              ElementsAre(clock_time(7), clock_time(11), clock_time(15), clock_time(19)));
}

TEST(Slots, SpreadOfOneIsTheFirst) {
  StagePlan stage = lit(clock_time(6), 16 * kHour, SlotRule::spread);
  stage.floods.count = 1;
  stage.floods.first_after_s = kHour;
  EXPECT_THAT(starts(slots_for({}, stage)), ElementsAre(clock_time(7)));
}

TEST(Slots, SpreadWithoutRoomBetweenItsEndsIsOneFlood) {
  StagePlan stage = lit(clock_time(6), 2 * kHour, SlotRule::spread);
  stage.floods.count = 5;
  stage.floods.first_after_s = kHour;
  stage.floods.last_before_s = 90 * kMinute;
  EXPECT_THAT(starts(slots_for({}, stage)), ElementsAre(clock_time(7)));
}

TEST(Slots, SpreadCrossesMidnightWithTheLight) {
  StagePlan stage = lit(clock_time(20), 12 * kHour, SlotRule::spread);
  stage.floods.count = 3;
  EXPECT_THAT(starts(slots_for({}, stage)),
              ElementsAre(clock_time(20), clock_time(26), clock_time(32)));
}

TEST(Slots, AtTimesBelongToThePhotoperiodThatContainsThem) {
  StagePlan stage = lit(clock_time(20), 12 * kHour, SlotRule::at_times);
  stage.floods.times_s = {clock_time(8), clock_time(21), clock_time(19, 59), clock_time(20)};
  const FloodSlots slots = slots_for({}, stage);
  EXPECT_THAT(starts(slots),
              ElementsAre(clock_time(20), clock_time(21), clock_time(32), clock_time(43, 59)));
  for (const FloodSlot& s : slots) EXPECT_EQ(s.id.date, kDate);
}

TEST(Slots, WithoutLightOnlyFixedTimesRemain) {
  StagePlan stage = lit(clock_time(6), 0, SlotRule::at_times);
  stage.floods.times_s = {clock_time(9)};
  stage.floods.count = 3;
  EXPECT_THAT(starts(slots_for({}, stage)), ElementsAre(clock_time(9)));
  stage.floods.rule = SlotRule::after_lights_on;
  EXPECT_THAT(starts(slots_for({}, stage)), IsEmpty());
  stage.floods.rule = SlotRule::spread;
  EXPECT_THAT(starts(slots_for({}, stage)), IsEmpty());
}

TEST(Slots, FallowAndFloodsByHandHaveNone) {
  StagePlan stage = lit(clock_time(6), 16 * kHour, SlotRule::at_times);
  stage.floods.times_s = {clock_time(9)};
  stage.fallow = true;
  EXPECT_THAT(starts(slots_for({}, stage)), IsEmpty());
  EXPECT_FALSE(next_slot({}, stage, {kDate, 0}).has_value());
  stage.fallow = false;
  stage.floods.rule = SlotRule::none;
  EXPECT_THAT(starts(slots_for({}, stage)), IsEmpty());
}

// --- quiet hours --------------------------------------------------------------------------------

struct QuietCase {
  const char* what;
  std::int32_t on_s;
  std::int32_t length_s;
  QuietHours quiet;
  std::int32_t asked_s;  // second of day
  std::int64_t start_s;  // from midnight of the lights-on date
};

class Quiet : public testing::TestWithParam<QuietCase> {};

TEST_P(Quiet, MovesAFlood) {
  const QuietCase& c = GetParam();
  StagePlan stage = lit(c.on_s, c.length_s, SlotRule::at_times);
  stage.floods.times_s = {c.asked_s};
  ProgrammePlan programme;
  programme.quiet = c.quiet;
  const FloodSlots slots = slots_for(programme, stage);
  ASSERT_EQ(slots.size(), 1u) << c.what;
  EXPECT_EQ(starts(slots)[0], c.start_s) << c.what;
  EXPECT_EQ(slots[0].asked.second_of_day, c.asked_s) << c.what;
}

const QuietHours kNight{true, clock_time(22), clock_time(6)};
INSTANTIATE_TEST_SUITE_P(
    Cases, Quiet,
    testing::Values(QuietCase{"outside: stays", clock_time(8), 12 * kHour, kNight, clock_time(9),
                              clock_time(9)},
                    QuietCase{"noon rest: to its end, in the light",
                              clock_time(8),
                              12 * kHour,
                              {true, clock_time(12), clock_time(14)},
                              clock_time(12),
                              clock_time(14)},
                    QuietCase{"morning: to the end, in the light", clock_time(4), 16 * kHour,
                              kNight, clock_time(5), clock_time(6)},
                    QuietCase{"evening: the end is dark, 30 min before is light", clock_time(8),
                              16 * kHour, kNight, clock_time(23), clock_time(21, 30)},
                    QuietCase{"light over midnight: to the end", clock_time(18), 14 * kHour, kNight,
                              clock_time(23), clock_time(30)},
                    QuietCase{"night flood, all dark: to the end", clock_time(8), 12 * kHour,
                              kNight, clock_time(23), clock_time(30)},
                    QuietCase{"night flood whose end is the next photoperiod: before, in the dark",
                              clock_time(5), 12 * kHour, kNight, clock_time(23),
                              clock_time(21, 30)}));

TEST(Slots, ThatMeetAtTheEndOfQuietHoursAreOneAndNumbersStay) {
  StagePlan stage = lit(clock_time(4), 16 * kHour, SlotRule::at_times);
  stage.floods.times_s = {clock_time(4), clock_time(5), clock_time(6), clock_time(12)};
  ProgrammePlan programme;
  programme.quiet = kNight;
  const FloodSlots slots = slots_for(programme, stage);
  EXPECT_THAT(starts(slots), ElementsAre(clock_time(6), clock_time(12)));
  EXPECT_THAT(numbers(slots), ElementsAre(1, 4));
}

// --- the next slot
// --------------------------------------------------------------------------------

TEST(NextSlot, IsTheOneThatStartsNowOrLater) {
  StagePlan stage = lit(clock_time(6), 16 * kHour, SlotRule::at_times);
  stage.floods.times_s = {clock_time(9), clock_time(15)};
  const auto now = [&](int hour, int second = 0) {
    return next_slot({}, stage, {kDate, hour * kHour + second});
  };
  EXPECT_EQ(now(9)->id, (SlotId{kDate, 1}));
  EXPECT_EQ(now(9, 1)->id, (SlotId{kDate, 2}));
  EXPECT_EQ(now(15, 1)->id, (SlotId{kDate + 1, 1}));
  EXPECT_EQ(now(0)->id, (SlotId{kDate, 1}));
}

TEST(NextSlot, OfANightFloodCanBelongToYesterdaysPhotoperiod) {
  StagePlan stage = lit(clock_time(20), 12 * kHour, SlotRule::at_times);
  stage.floods.times_s = {clock_time(4)};
  EXPECT_EQ(next_slot({}, stage, {kDate, clock_time(3)})->id, (SlotId{kDate - 1, 1}));
}

TEST(NextSlot, FindsAFloodThatNearlyEndlessQuietHoursPushedIntoTheNextDay) {
  StagePlan stage = lit(clock_time(6), 12 * kHour, SlotRule::at_times);
  stage.floods.times_s = {clock_time(20)};
  ProgrammePlan programme;
  programme.quiet = {true, clock_time(10), clock_time(9, 50)};
  const auto next = next_slot(programme, stage, {kDate, clock_time(9)});
  ASSERT_TRUE(next.has_value());
  EXPECT_EQ(next->id, (SlotId{kDate - 1, 1}));
  EXPECT_EQ(next->start, (CivilTime{kDate, clock_time(9, 50)}));
}

// --- properties over random stages
// -----------------------------------------------------------------

struct World {
  StagePlan stage;
  ProgrammePlan programme;
};

World random_world(std::mt19937& random) {
  const auto upto = [&](std::int32_t most) {
    return static_cast<std::int32_t>(random() % (static_cast<std::uint32_t>(most) + 1));
  };
  World w;
  w.stage = lit(upto(kSecondsPerDay - 1), upto(kSecondsPerDay), SlotRule::none);
  w.stage.floods.rule = static_cast<SlotRule>(upto(3));
  w.stage.floods.count = upto(12);
  w.stage.floods.first_after_s = upto(4 * kHour);
  w.stage.floods.last_before_s = upto(4 * kHour);
  const int times = upto(12);
  for (int i = 0; i < times; ++i) w.stage.floods.times_s.push_back(upto(kSecondsPerDay - 1));
  w.programme.quiet.fitted = upto(1) == 1;
  w.programme.quiet.from_s = upto(kSecondsPerDay - 1);
  // Up to 23.5 h: longer ones push floods out of their photoperiod (a test of its own).
  w.programme.quiet.to_s = (w.programme.quiet.from_s + upto(23 * kHour + 1800)) % kSecondsPerDay;
  return w;
}

TEST(Slots, OfRandomStagesAreSortedUniqueQuietAndInTheirPhotoperiod) {
  for (unsigned seed = 0; seed < 500; ++seed) {
    std::mt19937 random(seed);
    const World w = random_world(random);
    const CivilTime on{kDate, w.stage.lights_on_s};
    const FloodSlots slots = slots_for(w.programme, w.stage);
    std::set<int> seen;
    for (std::size_t i = 0; i < slots.size(); ++i) {
      const std::int64_t after = civil_seconds_between(on, slots[i].start);
      ASSERT_GE(after, 0) << "seed " << seed;
      ASSERT_LT(after, kSecondsPerDay) << "seed " << seed;
      if (i > 0) {
        ASSERT_LT(slots[i - 1].start, slots[i].start) << "seed " << seed;
      }
      ASSERT_FALSE(in_quiet_hours(w.programme.quiet, slots[i].start.second_of_day))
          << "seed " << seed;
      ASSERT_EQ(slots[i].id.date, kDate);
      ASSERT_GE(slots[i].id.number, 1);
      ASSERT_TRUE(seen.insert(slots[i].id.number).second) << "seed " << seed;
    }
  }
}

TEST(Slots, OfRandomStagesShiftByWholeDaysWithTheirDate) {
  for (unsigned seed = 0; seed < 500; ++seed) {
    std::mt19937 random(seed);
    const World w = random_world(random);
    const FloodSlots today = slots_for(w.programme, w.stage);
    const FloodSlots later = slots_for(w.programme, w.stage, kDate + 200);
    ASSERT_EQ(today.size(), later.size());
    for (std::size_t i = 0; i < today.size(); ++i) {
      ASSERT_EQ(today[i].id.number, later[i].id.number);
      ASSERT_EQ(civil_seconds_between(today[i].start, later[i].start), 200LL * kSecondsPerDay);
    }
  }
}

// The reference: every slot of nine photoperiods around now, and the earliest that is not past.
TEST(NextSlot, OfRandomStagesIsTheEarliestOfAllSlotsNotPast) {
  for (unsigned seed = 0; seed < 500; ++seed) {
    std::mt19937 random(seed);
    const World w = random_world(random);
    for (int sample = 0; sample < 20; ++sample) {
      const CivilTime now{kDate, static_cast<std::int32_t>(random() % kSecondsPerDay)};
      std::vector<FloodSlot> all;
      for (std::int32_t date = kDate - 4; date <= kDate + 4; ++date)
        for (const FloodSlot& s : slots_for(w.programme, w.stage, date)) all.push_back(s);
      std::erase_if(all, [&](const FloodSlot& s) { return s.start < now; });
      const auto next = next_slot(w.programme, w.stage, now);
      ASSERT_EQ(next.has_value(), !all.empty()) << "seed " << seed;
      if (!next) continue;
      const auto first = std::min_element(
          all.begin(), all.end(), [](const auto& a, const auto& b) { return a.start < b.start; });
      ASSERT_EQ(next->id, first->id) << "seed " << seed;
      ASSERT_EQ(next->start, first->start) << "seed " << seed;
    }
  }
}

}  // namespace
}  // namespace neap
