#include "daemon/client/journal_ask.h"

#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

constexpr Millis kLongAgo = hours{24 * 4000};

}  // namespace

Plan plan_in_force(const Session& session, journal::Reader& reader) {
  if (auto result = settings::load_text(reader.settings_in_force()); result.loaded)
    return std::move(result.loaded->plan);
  return load_or_fail(session.globals.settings).plan;
}

std::int64_t last_tick(journal::Reader& reader) {
  const auto last = reader.last_tick();
  if (!last) throw Failure(kExitNoJournal, "the journal is empty", "wait until neapd has run");
  return *last;
}

std::int64_t tick_of(journal::Reader& reader, CivilTime civil) {
  const std::int32_t offset = reader.stamp(last_tick(reader)).utc_offset_s;
  const std::int64_t local_s =
      static_cast<std::int64_t>(civil.date) * kSecondsPerDay + civil.second_of_day;
  const auto tick = reader.tick_at((local_s - offset) * 1000);
  if (!tick)
    throw Failure(kExitRefused,
                  "the journal knows no time of day for " + words::civil_date(civil.date),
                  "give a length of time instead, such as 2h");
  return *tick;
}

std::int64_t moment_tick(journal::Reader& reader, const std::string& option,
                         const std::string& text) {
  if (const auto date = read_date_time(text)) return tick_of(reader, date->civil);
  if (text.find('-') != std::string::npos)
    return tick_of(reader, parse_date_time(option, text).civil);
  if (!read_duration(text))
    throw Failure(kExitUsage,
                  option + " is \"" + words::printable(text) +
                      "\", which is neither a length of time nor a date",
                  "write 2h, or 2026-06-01, or 2026-06-01T14:30");
  const Millis back = parse_duration(option, text, seconds{1}, kLongAgo);
  return last_tick(reader) - back.count();
}

void warn_of_trouble(const Session& session, const journal::Reader& reader) {
  if (!reader.trouble().empty())
    session.around.err << "neap: incomplete: " << words::printable(reader.trouble()) << "\n";
}

}  // namespace neap::client
