// Goal: what people read: news with its deadline, the recap of an outage, the line of a day, the
// JSON of a hook, and what is remembered of it all.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "daemon/tell/envelope.h"
#include "daemon/tell/memory.h"
#include "daemon/tell/news.h"
#include "daemon/tell/recap.h"

namespace neap::tell {
namespace {

using nlohmann::json;
using ::testing::HasSubstr;

constexpr std::int64_t kMidnight = 1'780'272'000'000;  // 2026-06-01 00:00 UTC
constexpr std::int64_t kMinute = 60'000;

journal::Stamp clock(int hour, int minute, int day = 0) {
  const std::int64_t ms = ((day * 24 + hour) * 60 + minute) * kMinute;
  return {1'000'000 + ms, kMidnight + ms, 0};
}

journal::EventRow transition(Alarm alarm, AlarmState from, AlarmState to, Because why = {}) {
  journal::EventRow row;
  row.number = 5;
  row.at = clock(2, 10);
  row.event.kind = EventKind::alarm;
  row.event.alarm = alarm;
  row.event.alarm_from = from;
  row.event.alarm_to = to;
  row.event.because = why;
  return row;
}

TEST(TellNews, AnAlarmIsToldWithItsCauseItsDeadlineAndWhatToDo) {
  const auto message =
      news_of(transition(Alarm::flood_missed, AlarmState::normal, AlarmState::unacknowledged,
                         because(Reason::flood_missed, 19 * 3600 + 40 * 60)),
              {});
  ASSERT_TRUE(message.has_value());
  EXPECT_THAT(message->text, HasSubstr("roots safe until about 19:40"));
  EXPECT_EQ(message->subject, info(Alarm::flood_missed).name);
  EXPECT_EQ(message->remedy, info(Alarm::flood_missed).remedy);
  EXPECT_FALSE(message->wakes);
}

TEST(TellNews, WaterWakesPeopleThoughItIsNotCritical) {
  const auto leak =
      news_of(transition(Alarm::leak, AlarmState::returned, AlarmState::unacknowledged), {});
  EXPECT_TRUE(leak->wakes);
  EXPECT_EQ(leak->priority, Priority::high);
}

TEST(TellNews, OnlyABeginningAndAnEndAreNews) {
  using enum AlarmState;
  const auto told = [](AlarmState from, AlarmState to) {
    const auto message = news_of(transition(Alarm::leak, from, to), {});
    return message ? std::string(name(message->kind)) : std::string("-");
  };
  EXPECT_EQ(told(normal, unacknowledged), "alarm");
  EXPECT_EQ(told(shelved, unacknowledged), "alarm");
  EXPECT_EQ(told(suppressed, unacknowledged), "alarm");
  EXPECT_EQ(told(unacknowledged, acknowledged), "-");
  EXPECT_EQ(told(acknowledged, normal), "cleared");
  EXPECT_EQ(told(unacknowledged, returned), "cleared");
  EXPECT_EQ(told(returned, normal), "-");
  EXPECT_EQ(told(unacknowledged, shelved), "-");
}

TEST(TellNews, WhatNobodyAcknowledgesIsRemindedOfUntilSomebodyDoes) {
  Reminders reminders;
  journal::AlarmSpan leak;
  leak.alarm = Alarm::leak;
  leak.raised = clock(2, 10);
  const auto count = [&](std::int64_t steady_ms, std::vector<journal::AlarmSpan> spans) {
    return reminders.due(spans, hours{1}, {0, steady_ms}).size();
  };
  EXPECT_EQ(count(0, {leak}), 0U);
  EXPECT_EQ(count(60 * kMinute - 1, {leak}), 0U);
  EXPECT_EQ(count(60 * kMinute, {leak}), 1U);
  EXPECT_EQ(count(61 * kMinute, {leak}), 0U);
  EXPECT_EQ(count(119 * kMinute, {}), 0U) << "acknowledged";
  EXPECT_EQ(count(120 * kMinute, {leak}), 0U) << "raised again: its own hour";
}

journal::BootRow boot_at(int hour, int minute, bool clean = false) {
  return {clock(hour, minute), "0.1.0", clean};
}
journal::EventRow missed(int number) {
  journal::EventRow row;
  row.event.kind = EventKind::slot_skipped;
  row.event.slot = {20'000, number};
  row.event.because = because(Reason::flood_missed);
  return row;
}
journal::CycleEntry cycle(journal::Stamp started, FloodOrigin origin, int slot,
                          FloodOutcome outcome = FloodOutcome::complete) {
  journal::CycleEntry entry;
  entry.started = started;
  entry.row.slot = {20'000, slot};
  entry.row.origin = origin;
  entry.row.outcome = outcome;
  entry.row.litres_known = true;
  entry.row.litres_out = 3.8;
  entry.row.litres_back = 3.72;
  entry.row.dip_known = true;
  entry.row.vpd_before_kpa = 1.0;
  entry.row.vpd_lowest_kpa = 0.91;
  entry.row.recovery = minutes{2};
  entry.row.recovered = true;
  return entry;
}

TEST(TellRecap, AnOutageSaysWhatWasMissedAndCaughtUp) {
  const auto outage = outage_of(boot_at(5, 40), clock(2, 10), {missed(1)},
                                {cycle(clock(6, 0), FloodOrigin::catch_up, 1)});
  ASSERT_TRUE(outage.has_value());
  EXPECT_TRUE(settled(*outage));
  EXPECT_EQ(text_of(*outage),
            "out 02:10-05:40 (power or crash), one flood missed, caught up 06:00");
}

TEST(TellRecap, AMissedFloodThatNobodyCaughtUpIsSaidSo) {
  const auto outage = outage_of(boot_at(5, 40), clock(2, 10), {missed(1), missed(2)}, {});
  EXPECT_FALSE(settled(*outage));
  EXPECT_THAT(text_of(*outage), HasSubstr("two floods missed, not caught up"));
}

TEST(TellRecap, WhatALatchWithheldAndAnOrdinaryFloodAreNoPartOfAnOutage) {
  journal::EventRow withheld = missed(3);
  withheld.event.because = because(Reason::flood_withheld);
  const auto outage = outage_of(
      boot_at(5, 40), clock(2, 10), {missed(1), withheld},
      {cycle(clock(6, 0), FloodOrigin::slot, 2), cycle(clock(6, 30), FloodOrigin::catch_up, 1)});
  EXPECT_THAT(text_of(*outage), HasSubstr("one flood missed, caught up 06:30"));
  EXPECT_THAT(text_of(*outage), ::testing::Not(HasSubstr("06:00")));
}

TEST(TellRecap, AStopByAPersonIsCalledSoAndDaysAreNamedWhereTheyDiffer) {
  const auto outage = outage_of({clock(5, 40, 1), "0.1.0", true}, clock(22, 5), {}, {});
  EXPECT_EQ(text_of(*outage), "stopped 06-01 22:05 to 06-02 05:40, no floods missed");
}

TEST(TellRecap, ARestartIsNoOutage) {
  EXPECT_FALSE(outage_of(boot_at(2, 11), clock(2, 10), {}, {}).has_value());
  EXPECT_FALSE(outage_of({{5, {}, 0}, "0.1.0", false}, clock(2, 10), {}, {}).has_value());
}

TEST(TellRecap, TheLineOfADay) {
  DayFacts facts;
  for (int slot = 1; slot <= 5; ++slot)
    facts.cycles.push_back(cycle(clock(6 + slot, 0), FloodOrigin::slot, slot));
  journal::PointSummary floor;
  floor.point = Point::leak_floor;
  floor.latest = static_cast<double>(Contact::clear);
  facts.latest.push_back(floor);
  EXPECT_EQ(daily_text(facts, {}),
            "5 of 5 floods proven, 19.0 L up, 18.6 L back, VPD dipped 0.09 kPa, back in "
            "2 min, floor dry");
}

TEST(TellRecap, TheLineOfABadDayHidesNothing) {
  DayFacts facts;
  facts.cycles.push_back(cycle(clock(7, 0), FloodOrigin::slot, 1, FloodOutcome::fill_failed));
  facts.cycles.push_back(cycle(clock(8, 0), FloodOrigin::slot, 2));
  facts.cycles.back().row.recovered = false;
  facts.cycles.push_back(cycle(clock(9, 0), FloodOrigin::operator_request, 0));
  facts.skipped.push_back({20'000, 3});
  facts.standing.push_back(Alarm::fill_failed);
  journal::PointSummary floor;
  floor.point = Point::leak_floor;
  facts.latest.push_back(floor);
  const std::string text = daily_text(facts, {});
  EXPECT_THAT(text, HasSubstr("1 of 3 floods proven, one more flood by hand"));
  EXPECT_THAT(text, HasSubstr("not back since"));
  EXPECT_THAT(text, HasSubstr("floor not read"));
  EXPECT_THAT(text, HasSubstr("; stands: fill-failed"));
}

TEST(TellEnvelope, ATellingIsOneLineOfJsonWithTextForPeople) {
  Message leak;
  leak.kind = Kind::alarm;
  leak.priority = Priority::high;
  leak.wakes = true;
  leak.at_unix_ms = kMidnight + 130 * kMinute;
  leak.subject = "leak";
  leak.text = "Water at a leak probe";
  leak.remedy = "dry it";
  Delivery delivery{{leak, leak}, 7, 2, {}};
  const Sender sender{"box-room", "Europe/Brussels", 7200};
  const std::string line = envelope(sender, delivery, {}, {kMidnight, 0});
  EXPECT_EQ(line.find('\n'), line.size() - 1);
  const json told = json::parse(line);
  EXPECT_EQ(told["kind"], "alarm");
  EXPECT_EQ(told["priority"], "high");
  EXPECT_EQ(told["subject"], "box-room: Water at a leak probe, and 8 more");
  EXPECT_THAT(told["text"].get<std::string>(),
              HasSubstr("06-01 04:10  Water at a leak probe\n  do: dry it\n"));
  EXPECT_THAT(told["text"].get<std::string>(), HasSubstr("and 7 more: "));
  EXPECT_THAT(told["text"].get<std::string>(), HasSubstr("2 before these could not be told"));
  EXPECT_EQ(told["items"].size(), 2U);
  EXPECT_EQ(told["more"], 7);
}

TEST(TellEnvelope, AHeartbeatSaysHowItStandsAndWhenTheNextIsDue) {
  Message beat;
  beat.kind = Kind::heartbeat;
  beat.text = "All is well";
  BeatFacts facts{true, "All is well", "", "flood 3 in 1 h 20 min", "out 02:10-05:40", minutes{10}};
  const json told = json::parse(envelope({"t", "UTC", 0}, {{beat}, 0, 0, {}}, facts, {1, 0}));
  EXPECT_EQ(told["kind"], "heartbeat");
  EXPECT_EQ(told["ok"], true);
  EXPECT_EQ(told["every_s"], 600);
  EXPECT_EQ(told["next"], "flood 3 in 1 h 20 min");
  EXPECT_EQ(told["recap"], "out 02:10-05:40");
}

TEST(TellMemory, ARestartForgetsNothingAndBelievesNoWallClock) {
  const Now before{kMidnight, 5'000'000};
  Memory memory;
  memory.event_number = 77;
  memory.tick = 123;
  memory.boot_tick = 100;
  memory.daily = 20'000;
  memory.recap = "out 02:10-05:40";
  Mailbox& box = memory.boxes.emplace_back();
  box.hook = "mail";
  Message message;
  message.text = "Water \xff at a probe";  // foreign bytes do no harm
  message.kind = Kind::silence;
  box.waiting.push_back({message, before.steady_ms - 60'000});
  box.starts_ms = {before.steady_ms - 600'000};
  box.not_before = before.steady_ms + 45'000;
  box.failed = Failed{kMidnight - 1, "exit code 3", 4};
  box.lost = 2;
  memory.told.push_back({kMidnight, "mail", "x", 3, "exit code 3"});
  // A year ahead by the wall, and the steady clock begins anew.
  const Now after{kMidnight + 365LL * 86'400'000, 1'000};
  const auto read = read_memory(text_of(memory, before), after);
  ASSERT_TRUE(read.has_value());
  EXPECT_EQ(read->event_number, 77);
  EXPECT_EQ(read->boot_tick, 100);
  EXPECT_EQ(read->daily, 20'000);
  const Mailbox& same = read->boxes.at(0);
  EXPECT_EQ(same.waiting.at(0).tried_from_ms, 1'000 - 60'000);
  EXPECT_EQ(same.waiting.at(0).message.kind, Kind::silence);
  EXPECT_EQ(same.starts_ms.at(0), 1'000 - 600'000);
  EXPECT_EQ(same.not_before, 1'000 + 45'000);
  EXPECT_EQ(same.failed->times, 4);
  EXPECT_EQ(same.lost, 2);
  EXPECT_EQ(read->told.at(0).why, "exit code 3");
}

TEST(TellMemory, ATextThatIsNoneIsNoMemory) {
  for (const char* text :
       {"", "{", "[]", "{}", R"({"neap_tell":2})", R"({"neap_tell":1,"looked_unix_ms":"x"})"})
    EXPECT_FALSE(read_memory(text, {0, 0}).has_value()) << text;
}

}  // namespace
}  // namespace neap::tell
