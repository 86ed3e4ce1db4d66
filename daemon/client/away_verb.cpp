// `neap away 6d`: go or no-go, from the daemon's status and the journal.
#include <algorithm>

#include "daemon/client/away.h"
#include "daemon/client/failure.h"
#include "daemon/client/hand_record.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/parse.h"
#include "daemon/client/verbs.h"
#include "daemon/client/water_away.h"
#include "daemon/client/water_record.h"
#include "daemon/core/limits.h"
#include "daemon/solution/water_balance.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr Millis kDay = hours{24};
constexpr Millis kLookBack = kDay * 7;

// As `neap water` reckons it: loss of a cycle wants the level by the minute.
std::optional<double> lost_per_day(journal::Reader& reader, std::int64_t now) {
  const std::int64_t from = std::max(reader.first_tick().value_or(now), now - kLookBack.count());
  const solution::WaterRecord record = water_record(reader, hour_scale(reader, from), from, now);
  return solution::loss_per_day(solution::day_losses(solution::cycle_losses(record)));
}

std::optional<double> reading_of(const json& status, Point point) {
  for (const json& one : status.value("readings", json::array()))
    if (one.value("point", "") == info(point).name && one["value"].is_number())
      return one["value"].get<double>();
  return std::nullopt;
}

// While it is recent enough for the daemon to go by.
std::optional<double> by_hand(const json& status, Hand hand) {
  for (const json& one : status.value("by_hand", json::array()))
    if (one.value("quantity", "") == info(hand).name && one.value("in_force", false))
      return one["value"].get<double>();
  return std::nullopt;
}

double days_left(std::int64_t at_unix_ms, Millis every, std::int64_t now_unix_ms) {
  return static_cast<double>(at_unix_ms + every.count() - now_unix_ms) /
         static_cast<double>(kDay.count());
}

void take_alarms(const json& status, AwayFacts& facts) {
  for (const json& one : status.value("alarms", json::array())) {
    const std::string priority = one.value("priority", "");
    if (priority == words::name(Priority::advisory) || priority == words::name(Priority::low))
      continue;
    facts.stands.push_back("alarm: " + words::printable(one.value("title", "")) + "; " +
                           words::printable(one.value("remedy", "")));
  }
  for (const json& one : status.value("latches", json::array()))
    facts.stands.push_back("latch: " + words::printable(one.value("title", "")));
}

void take_dues(const json& status, const json& calibrations, const Plan& plan, std::int64_t now,
               AwayFacts& facts) {
  for (const json& one : status.value("proofs", json::array())) {
    const std::string what = "the proof test of " + words::printable(one.value("test", ""));
    if (!one.value("passed", false))
      facts.due.push_back({what, 0});
    else if (one["at_unix_ms"].is_number_integer() && one.value("test", "") != "flood")
      facts.due.push_back(
          {what, days_left(one["at_unix_ms"].get<std::int64_t>(), plan.proofs.every, now)});
  }
  for (const json& one : calibrations.value("calibrations", json::array())) {
    const json made = one.value("in_force", json());
    const Millis every = seconds{static_cast<std::int64_t>(one.value("every_s", 0.0))};
    if (!made.is_object() || !made["at_unix_ms"].is_number_integer() || every == Millis{0})
      continue;
    facts.due.push_back(
        {"the calibration of the " + words::printable(one.value("probe", "")) + " probe",
         days_left(made["at_unix_ms"].get<std::int64_t>(), every, now)});
  }
}

AwayFacts facts_of(const Session& session, double days) {
  AwayFacts facts;
  facts.days = days;
  const json status = session.ask("status", json::object());
  const auto reader = open_journal(session.globals.journal);
  const Plan plan = plan_in_force(session, *reader);
  const std::int64_t now = last_tick(*reader);
  facts.flood = water_away(status.value("flood", json::object()).value("phase", ""));
  facts.drips = WaterAway(*reader, now).at(now);
  facts.level_l = reading_of(status, Point::reservoir_level);
  if (!facts.level_l) facts.level_l = by_hand(status, Hand::level);
  facts.ec = reading_of(status, Point::solution_ec);
  if (!facts.ec) facts.ec = by_hand(status, Hand::ec);
  facts.loss_l_per_day = lost_per_day(*reader, now);
  facts.capacity_l = plan.table.reservoir_capacity.value;
  facts.needed_l = plan.table.reservoir_minimum.value + plan.table.flood_volume.value;
  const json stage = status.value("stage", json::object());
  const auto index = static_cast<std::size_t>(stage.value("index", 0));
  if (index < plan.programme.stages.size()) {
    const auto& band = plan.programme.stages[index].solution[static_cast<std::size_t>(Hand::ec)];
    if (band) facts.ec_most = band->high;
  }
  if (const int length = stage.value("days", 0); length > 0)
    facts.stage_days = std::max(0, length - stage.value("day", 1) + 1);
  if (plan.outputs[Output::dehumidifier]) {
    double most = 0;
    for (const journal::DayEntry& day : reader->days({now - kLookBack.count(), now}))
      most = std::max(most, static_cast<double>(day.tally.dehumidifier_on.count()) / 3'600'000);
    if (most > 0) facts.condensed_l_per_day = most * plan.climate.dehumidifier_g_per_h / 1000;
  }
  take_alarms(status, facts);
  take_dues(status, session.ask("calibrations", json::object()), plan, session.around.now_unix_ms(),
            facts);
  return facts;
}

std::string_view mark(Grade grade) {
  switch (grade) {
    case Grade::good:
      return "well";
    case Grade::task:
      return "to do";
    case Grade::no:
      return "no";
  }
  return "";
}

}  // namespace

int do_away(Session& session) {
  if (session.args.words.empty())
    throw Failure(kExitUsage, "for how long is not said", "write for instance neap away 6d");
  std::string length;
  for (const std::string& word : session.args.words) length += word;
  const Millis lasts = parse_duration("LENGTH", length, kDay, kDay * 60);
  const double days = static_cast<double>(lasts.count()) / static_cast<double>(kDay.count());
  const AwayVerdict verdict = judge_away(facts_of(session, days));
  json list = json::array();
  Table table({Table::Side::left, Table::Side::left});
  for (const AwayPoint& point : verdict.points) {
    list.push_back({{"grade", mark(point.grade)}, {"text", point.text}});
    table.add({Cell(std::string(mark(point.grade)),
                    point.grade == Grade::good ? Tone::good : Tone::warning),
               point.text});
  }
  session.show({{"go", verdict.go}, {"points", list}},
               (verdict.go ? "Go, once what is to do is done.\n" : "Do not go yet.\n") +
                   table.text(session.look, kPageWidth));
  return verdict.go ? kExitDone : kExitRefused;
}

}  // namespace neap::client
