#include "daemon/client/journal_ask.h"

#include <algorithm>
#include <chrono>
#include <thread>

#include "daemon/client/failure.h"
#include "daemon/client/measures.h"
#include "daemon/client/parse.h"
#include "daemon/client/records_json.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

constexpr Millis kLongAgo = hours{24 * 4000};
constexpr auto kStoredWithin = std::chrono::seconds{3};
constexpr auto kLookAgain = std::chrono::milliseconds{20};

}  // namespace

settings::Loaded settings_in_force(const Session& session, journal::Reader& reader) {
  if (auto result = settings::load_text(reader.settings_in_force()); result.loaded)
    return std::move(*result.loaded);
  return load_or_fail(session.globals.settings);
}

Plan plan_in_force(const Session& session, journal::Reader& reader) {
  return settings_in_force(session, reader).plan;
}

words::Style style_in_force(journal::Reader& reader) {
  const auto result = settings::load_text(reader.settings_in_force());
  return {!result.loaded || result.loaded->plan.metric};
}

std::int64_t last_tick(journal::Reader& reader) {
  const auto last = reader.last_tick();
  if (!last) throw Failure(kExitNoJournal, "the journal is empty", "wait until neapd has run");
  return *last;
}

std::int64_t tick_of(journal::Reader& reader, CivilTime civil) {
  const std::int64_t local_s =
      static_cast<std::int64_t>(civil.date) * kSecondsPerDay + civil.second_of_day;
  const auto tick_with = [&](std::int32_t utc_offset_s) {
    const auto tick = reader.tick_at((local_s - utc_offset_s) * 1000);
    if (!tick)
      throw Failure(kExitRefused,
                    "the journal knows no time of day for " + words::civil_date(civil.date),
                    "give a length of time instead, such as 2h");
    return *tick;
  };
  // Today's offset finds the day; then that day's own counts, which summer time may part from it.
  const std::int64_t near = tick_with(reader.stamp(last_tick(reader)).utc_offset_s);
  return tick_with(reader.stamp(near).utc_offset_s);
}

namespace {

// The civil date of the newest entry.
std::int32_t newest_date(journal::Reader& reader) {
  const journal::Stamp newest = reader.stamp(last_tick(reader));
  if (!newest.unix_ms)
    throw Failure(kExitRefused, "the journal's newest entry has no time of day",
                  "give a length of time instead, such as 2h");
  const std::int64_t local_s = *newest.unix_ms / 1000 + newest.utc_offset_s;
  return static_cast<std::int32_t>(local_s / kSecondsPerDay);
}

// "today", "yesterday", "yesterday 19:10", "07:30": days as of the newest entry.
std::optional<CivilTime> read_day_word(journal::Reader& reader, const std::string& text) {
  if (text == "today") return CivilTime{newest_date(reader), 0};
  if (text == "yesterday") return CivilTime{newest_date(reader) - 1, 0};
  if (text.starts_with("yesterday ") || read_clock(text))
    return parse_moment(text, newest_date(reader));
  return std::nullopt;
}

// A photoperiod is closed at the lights-on that ends it.
std::int64_t last_lights_on(journal::Reader& reader) {
  const auto closed = reader.events({}, {EventKind::day_closed}, 1);
  if (closed.empty())
    throw Failure(kExitRefused, "the journal has seen no day end at lights-on yet",
                  "give a length of time instead, such as 2h");
  return closed.front().at.tick;
}

}  // namespace

std::int64_t moment_tick(journal::Reader& reader, const std::string& option,
                         const std::string& text) {
  if (text == "lights-on") return last_lights_on(reader);
  if (const auto civil = read_day_word(reader, text)) return tick_of(reader, *civil);
  if (const auto date = read_date_time(text)) return tick_of(reader, date->civil);
  if (text.find('-') != std::string::npos)
    return tick_of(reader, parse_date_time(option, text).civil);
  if (!read_duration(text))
    throw Failure(kExitUsage,
                  option + " is \"" + words::printable(text) +
                      "\", which is neither a length of time nor a date",
                  "write 2h, today, yesterday, lights-on, 07:30, 2026-06-01 or 2026-06-01T14:30");
  const Millis back = parse_duration(option, text, seconds{1}, kLongAgo);
  return last_tick(reader) - back.count();
}

journal::Span span_of(const Session& session, journal::Reader& reader, const char* fallback) {
  const std::string& since = session.args.since;
  const std::string& until = session.args.until;
  journal::Span span;
  if (!until.empty()) span.to = moment_tick(reader, "--until", until);
  if (!since.empty())
    span.from = moment_tick(reader, "--since", since);
  else if (*fallback != '\0')
    span.from = span.to.value_or(last_tick(reader)) - read_duration(fallback)->count();
  if (!since.empty() && span.to && *span.from >= *span.to)
    throw Failure(
        kExitUsage,
        "--since " + words::printable(since) + " is not before --until " + words::printable(until),
        "a length of time, such as 2h, counts back from the newest entry");
  return span;
}

Asked asked_within(journal::Reader& reader, const journal::Span& span) {
  const std::int64_t last = last_tick(reader);
  const std::int64_t first = reader.first_tick().value_or(last);
  const Asked asked{std::max(span.from.value_or(first), first),
                    std::min(span.to.value_or(last), last)};
  if (asked.from < asked.to) return asked;
  throw Failure(kExitRefused, "the journal has nothing in that time",
                "ask for a time from " + stamp_text(reader.stamp(first)) + " to " +
                    stamp_text(reader.stamp(last)));
}

Stored once_stored(const Session& session, const std::function<bool(journal::Reader&)>& shown) {
  using std::chrono::steady_clock;
  std::string error;
  const auto reader = journal::Reader::open(session.globals.journal, error);
  if (!reader) return Stored::unread;
  for (const auto until = steady_clock::now() + kStoredWithin; !shown(*reader);) {
    if (steady_clock::now() >= until) return Stored::not_yet;
    std::this_thread::sleep_for(kLookAgain);
  }
  return Stored::yes;
}

void warn_of_trouble(const Session& session, const journal::Reader& reader) {
  if (!reader.trouble().empty())
    session.around.err << "neap: incomplete: " << words::printable(reader.trouble()) << "\n";
}

}  // namespace neap::client
