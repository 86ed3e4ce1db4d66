// Goal: nothing that is to be told is lost, told twice, told at night without need, or told faster
// than the settings allow. Method: mailboxes by values; both clocks are arguments.
#include "daemon/tell/outbox.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace neap::tell {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::SizeIs;

constexpr std::int64_t kMinute = 60'000;
constexpr std::int64_t kHour = 60 * kMinute;

settings::Hook mail() {
  settings::Hook hook;
  hook.name = "mail";
  hook.time_limit = seconds{10};
  hook.try_for = hours{24};
  hook.most_an_hour = 3;
  return hook;
}

Now at(std::int64_t steady_ms) { return {1'780'000'000'000 + steady_ms, steady_ms}; }

Message alarm(const std::string& subject, Priority priority, bool wakes = false) {
  Message message;
  message.kind = Kind::alarm;
  message.subject = subject;
  message.priority = priority;
  message.wakes = wakes;
  message.text = subject + " raised";
  return message;
}

Message over(const std::string& subject, Priority priority) {
  Message message = alarm(subject, priority);
  message.kind = Kind::cleared;
  message.text = "over at 03:40";
  return message;
}

std::vector<std::string> texts(const std::optional<Delivery>& delivery) {
  std::vector<std::string> found;
  if (delivery)
    for (const Message& message : delivery->items) found.push_back(message.text);
  return found;
}

// Starts and delivers what is due; false when nothing is.
bool tell_now(Mailbox& box, const settings::Hook& hook, Now now, bool quiet = false) {
  const auto delivery = due(box, hook, quiet, now);
  if (!delivery) return false;
  started(box, *delivery, now);
  delivered(box, *delivery, now);
  return true;
}

bool fail_now(Mailbox& box, const settings::Hook& hook, Now now) {
  const auto delivery = due(box, hook, false, now);
  if (!delivery) return false;
  started(box, *delivery, now);
  failed(box, "exit code 1", now);
  return true;
}

TEST(Outbox, TellsTheMostUrgentFirstAndAllOfItTogether) {
  Mailbox box;
  put(box, mail(), alarm("spread", Priority::low), at(0));
  put(box, mail(), alarm("leak", Priority::high, true), at(0));
  put(box, mail(), alarm("canopy-lost", Priority::medium), at(0));
  const auto delivery = due(box, mail(), false, at(0));
  EXPECT_THAT(texts(delivery), ElementsAre("leak raised", "canopy-lost raised", "spread raised"));
  started(box, *delivery, at(0));
  delivered(box, *delivery, at(0));
  EXPECT_THAT(box.waiting, IsEmpty());
  EXPECT_EQ(due(box, mail(), false, at(kHour)), std::nullopt);
}

TEST(Outbox, WhatIsUnderTheHooksPriorityIsNotForIt) {
  settings::Hook pager = mail();
  pager.from = Priority::high;
  Mailbox box;
  put(box, pager, alarm("spread", Priority::medium), at(0));
  EXPECT_THAT(box.waiting, IsEmpty());
  put(box, pager, alarm("fan-dead", Priority::high), at(0));
  EXPECT_THAT(box.waiting, SizeIs(1));
}

TEST(Outbox, AtNightOnlyWhatWakesPeopleIsToldAndTheRestInTheMorning) {
  Mailbox box;
  put(box, mail(), alarm("reservoir-low", Priority::medium), at(0));
  put(box, mail(), alarm("fan-dead", Priority::high), at(0));
  EXPECT_EQ(due(box, mail(), true, at(0)), std::nullopt);
  put(box, mail(), alarm("roots-dry", Priority::critical, true), at(kHour));
  EXPECT_THAT(texts(due(box, mail(), true, at(kHour))), ElementsAre("roots-dry raised"));
  EXPECT_TRUE(tell_now(box, mail(), at(kHour), true));
  expire(box, mail(), at(48 * kHour));
  EXPECT_THAT(texts(due(box, mail(), false, at(48 * kHour))),
              ElementsAre("fan-dead raised", "reservoir-low raised"))
      << "what only waited for the morning does not expire, however long the night";
}

TEST(Outbox, AnAlarmOfTheNightThatIsOverIsOneLine) {
  Mailbox box;
  put(box, mail(), alarm("humidity-high", Priority::high), at(0));
  put(box, mail(), over("humidity-high", Priority::high), at(kHour));
  EXPECT_THAT(texts(due(box, mail(), false, at(8 * kHour))),
              ElementsAre("humidity-high raised; over at 03:40"));
  put(box, mail(), alarm("humidity-high", Priority::high), at(9 * kHour));
  EXPECT_THAT(box.waiting, SizeIs(2)) << "raised anew, it is news again";
  put(box, mail(), over("humidity-high", Priority::high), at(10 * kHour));
  EXPECT_THAT(
      texts(due(box, mail(), false, at(10 * kHour))),
      ElementsAre("humidity-high raised; over at 03:40", "humidity-high raised; over at 03:40"))
      << "each with its own end";
}

TEST(Outbox, AReminderAddsNothingToWhatWaitsUntold) {
  Mailbox box;
  Message reminder = alarm("leak", Priority::high, true);
  reminder.kind = Kind::reminder;
  put(box, mail(), alarm("leak", Priority::high, true), at(0));
  put(box, mail(), reminder, at(kHour));
  EXPECT_THAT(box.waiting, SizeIs(1));
  EXPECT_TRUE(tell_now(box, mail(), at(kHour)));
  put(box, mail(), reminder, at(2 * kHour));
  put(box, mail(), reminder, at(3 * kHour));
  EXPECT_THAT(box.waiting, SizeIs(1));
  put(box, mail(), over("leak", Priority::high), at(3 * kHour));
  EXPECT_THAT(texts(due(box, mail(), false, at(3 * kHour))), ElementsAre("over at 03:40"));
}

TEST(Outbox, AnHoursLimitHoldsBackAllButWhatWakesPeople) {
  Mailbox box;
  for (int i = 0; i < 3; ++i) {
    put(box, mail(), alarm("a" + std::to_string(i), Priority::medium), at(i * kMinute));
    EXPECT_TRUE(tell_now(box, mail(), at(i * kMinute)));
  }
  for (int i = 0; i < 12; ++i)
    put(box, mail(), alarm("b" + std::to_string(i), Priority::medium), at(3 * kMinute));
  EXPECT_FALSE(tell_now(box, mail(), at(kHour - 1)));
  const auto later = due(box, mail(), false, at(kHour));
  ASSERT_TRUE(later.has_value());
  EXPECT_THAT(later->items, SizeIs(10));
  EXPECT_EQ(later->more, 2U) << "told honestly: and 2 more";
  put(box, mail(), alarm("leak", Priority::high, true), at(4 * kMinute));
  EXPECT_EQ(texts(due(box, mail(), false, at(4 * kMinute))).front(), "leak raised");
}

TEST(Outbox, TwoStartsAreTenSecondsApartWhateverComes) {
  Mailbox box;
  put(box, mail(), alarm("leak", Priority::high, true), at(0));
  EXPECT_TRUE(tell_now(box, mail(), at(0)));
  put(box, mail(), alarm("overflow", Priority::high, true), at(1));
  EXPECT_FALSE(tell_now(box, mail(), at(9'999)));
  EXPECT_TRUE(tell_now(box, mail(), at(10'000)));
}

TEST(Outbox, AFailedDeliveryIsTriedEverLaterAndThenEveryHalfHour) {
  settings::Hook hook = mail();
  hook.most_an_hour = 60;
  Mailbox box;
  put(box, hook, alarm("fan-dead", Priority::high), at(0));
  std::vector<std::int64_t> pauses;
  for (std::int64_t now = 0; pauses.size() < 8;) {
    ASSERT_TRUE(fail_now(box, hook, at(now)));
    pauses.push_back(*box.not_before - now);
    EXPECT_FALSE(fail_now(box, hook, at(*box.not_before - 1)));
    now = *box.not_before;
  }
  EXPECT_THAT(pauses, ElementsAre(30'000, 60'000, 120'000, 240'000, 480'000, 960'000, 1'800'000,
                                  1'800'000));
  EXPECT_EQ(box.failed->times, 8);
  EXPECT_EQ(box.failed->since_unix_ms, at(0).unix_ms);
  EXPECT_EQ(box.failed->why, "exit code 1");
  EXPECT_TRUE(tell_now(box, hook, at(10 * kHour)));
  EXPECT_FALSE(box.failed.has_value());
}

TEST(Outbox, WhatWakesPeopleDoesNotSitOutALongPause) {
  settings::Hook hook = mail();
  hook.most_an_hour = 60;
  Mailbox box;
  put(box, hook, alarm("spread", Priority::low), at(0));
  std::int64_t now = 0;
  for (int i = 0; i < 7; ++i) {
    fail_now(box, hook, at(now));
    now = *box.not_before;
  }
  fail_now(box, hook, at(now));
  put(box, hook, alarm("leak", Priority::high, true), at(now + 1000));
  EXPECT_EQ(box.not_before, now + 1000 + kUrgentPauseMs);
  fail_now(box, hook, at(now + 1000 + kUrgentPauseMs));
  EXPECT_EQ(box.not_before, now + 1000 + 2 * kUrgentPauseMs);
}

TEST(Outbox, WhatWasTriedForTooLongIsCountedAndToldOf) {
  settings::Hook hook = mail();
  hook.try_for = hours{2};
  Mailbox box;
  put(box, hook, alarm("spread", Priority::low), at(0));
  put(box, hook, alarm("bucket-full", Priority::medium), at(0));
  EXPECT_TRUE(fail_now(box, hook, at(0)));
  EXPECT_TRUE(fail_now(box, hook, at(kHour))) << "a later try is not a first one";
  put(box, hook, alarm("fan-dead", Priority::high), at(kHour));
  expire(box, hook, at(2 * kHour - 1));
  EXPECT_THAT(box.waiting, SizeIs(3));
  expire(box, hook, at(2 * kHour));
  const auto delivery = due(box, hook, false, at(2 * kHour));
  EXPECT_THAT(texts(delivery), ElementsAre("fan-dead raised"));
  EXPECT_EQ(delivery->lost, 2);
  started(box, *delivery, at(2 * kHour));
  delivered(box, *delivery, at(2 * kHour));
  EXPECT_EQ(box.lost, 0) << "told once";
}

TEST(Outbox, AFloodOfAlarmsCrowdsOutTheLeastUrgentAndCountsThem) {
  Mailbox box;
  put(box, mail(), alarm("leak", Priority::high, true), at(0));
  for (int i = 0; i < 150; ++i)
    put(box, mail(), alarm("low" + std::to_string(i), Priority::low), at(0));
  EXPECT_THAT(box.waiting, SizeIs(kMostWaiting));
  EXPECT_EQ(box.lost, 51);
  const auto delivery = due(box, mail(), false, at(0));
  EXPECT_EQ(delivery->items.front().text, "leak raised");
  EXPECT_EQ(delivery->more, kMostWaiting - kTogether);
}

TEST(Outbox, AHeartbeatGoesToItsOwnHooksAndIsNeverRepeated) {
  settings::Hook watcher = mail();
  watcher.tells = settings::HookTells::heartbeat;
  Message beat;
  beat.kind = Kind::heartbeat;
  Mailbox people;
  Mailbox box;
  put(people, mail(), beat, at(0));
  put(box, watcher, alarm("leak", Priority::high, true), at(0));
  EXPECT_THAT(people.waiting, IsEmpty());
  EXPECT_THAT(box.waiting, IsEmpty());
  put(box, watcher, beat, at(0));
  EXPECT_TRUE(due(box, watcher, true, at(0)).has_value()) << "at night too";
  EXPECT_TRUE(fail_now(box, watcher, at(0)));
  EXPECT_THAT(box.waiting, IsEmpty()) << "an old heartbeat would say that all is well now";
  put(box, watcher, beat, at(10 * kMinute));
  EXPECT_TRUE(tell_now(box, watcher, at(10 * kMinute))) << "the next one has no pause to sit out";
}

TEST(Outbox, TheLineOfTheDayIsAProofAndOneProofIsEnough) {
  settings::Hook pager = mail();
  pager.from = Priority::critical;
  pager.daily = false;
  Message line;
  line.kind = Kind::daily;
  line.priority = Priority::advisory;
  Message proof = line;
  proof.kind = Kind::proof;
  Mailbox people;
  Mailbox box;
  for (int day = 0; day < 2; ++day)
    for (const Message& message : {line, proof}) {
      put(people, mail(), message, at(day * 24 * kHour));
      put(box, pager, message, at(day * 24 * kHour));
    }
  ASSERT_THAT(people.waiting, SizeIs(1));
  EXPECT_EQ(people.waiting[0].message.kind, Kind::daily);
  ASSERT_THAT(box.waiting, SizeIs(1));
  EXPECT_EQ(box.waiting[0].message.kind, Kind::proof);
}

TEST(Outbox, AWallClockThatJumpsHoldsNothingUpAndLetsNothingExpire) {
  for (const std::int64_t jump : {-kHour, 365 * 24 * kHour}) {
    Mailbox box;
    put(box, mail(), alarm("fan-dead", Priority::high), at(0));
    EXPECT_TRUE(fail_now(box, mail(), at(0)));
    const Now then{at(0).unix_ms + jump, kFirstPauseMs};
    expire(box, mail(), then);
    EXPECT_TRUE(tell_now(box, mail(), then));
  }
}

TEST(Heartbeats, NoLimitOfAnHourKeepsOneBack) {
  settings::Hook watcher = mail();
  watcher.tells = settings::HookTells::heartbeat;
  Mailbox box;
  Message beat;
  beat.kind = Kind::heartbeat;
  int told = 0;
  for (int minute = 0; minute < 120; ++minute) {
    const Now now = at(minute * kMinute);
    put(box, watcher, beat, now);
    if (const auto delivery = due(box, watcher, false, now)) {
      started(box, *delivery, now);
      delivered(box, *delivery, now);
      ++told;
    }
  }
  EXPECT_EQ(told, 120);
}

}  // namespace
}  // namespace neap::tell
