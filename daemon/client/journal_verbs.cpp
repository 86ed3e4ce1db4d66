// events, readings: verbs that need the journal only, with or without a daemon.
#include <algorithm>

#include "daemon/client/failure.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/parse.h"
#include "daemon/client/records_json.h"
#include "daemon/client/verbs.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;
using Side = Table::Side;

constexpr int kEventsShown = 50;
constexpr int kMostEvents = 100'000;
constexpr int kReadingsShown = 2000;

words::Style style_in_force(journal::Reader& reader) {
  const auto result = settings::load_text(reader.settings_in_force());
  return {!result.loaded || result.loaded->plan.metric};
}

int limit_of(const Session& session, int fallback) {
  const std::string& limit = session.args.limit;
  return limit.empty() ? fallback : parse_whole("--limit", limit, 1, kMostEvents, "--limit 200");
}

std::string render_summaries(const std::vector<journal::PointSummary>& rows, const Look& look) {
  Table table({Side::left, Side::right, Side::right, Side::right, Side::right, Side::right});
  table.head({"point", "latest", "lowest", "mean", "highest", "missing"});
  const auto shown = [&](Point point, const std::optional<double>& value) {
    return value ? words::value(point, *value, look.style) : std::string("-");
  };
  for (const journal::PointSummary& row : rows) {
    const bool contact = info(row.point).kind == PointKind::contact;
    table.add({info(row.point).name, shown(row.point, row.latest),
               contact ? "" : shown(row.point, row.lowest),
               contact ? "" : shown(row.point, row.mean),
               contact ? "" : shown(row.point, row.highest),
               row.missing == 0 ? std::string() : std::to_string(row.missing)});
  }
  return table.text(look, kPageWidth);
}

std::string render_readings(const std::vector<journal::ReadingRow>& rows, const Look& look) {
  Table table({Side::left, Side::right, Side::left});
  for (const journal::ReadingRow& row : rows)
    table.add({stamp_text(row.at),
               row.value ? words::value(row.point, *row.value, look.style) : std::string("-"),
               row.value ? Cell{row.quality == Quality::good ? "" : words::name(row.quality)}
                         : Cell{std::string(words::name(row.fault)), Tone::warning}});
  return table.text(look, kPageWidth);
}

int readings_of_point(Session& session, journal::Reader& reader) {
  const Point point = parse_point(session.args.words.front());
  Millis every{0};
  if (!session.args.every.empty())
    every = parse_duration("--every", session.args.every, seconds{1}, hours{24 * 31});
  const auto rows = reader.readings(point, span_of(session, reader, "1h"), every.count(),
                                    limit_of(session, kReadingsShown));
  warn_of_trouble(session, reader);
  json list = json::array();
  for (const auto& row : rows) list.push_back(reading_json(row));
  session.show({{"readings", list}},
               rows.empty() ? "No readings of " + std::string(info(point).name) + " in that time.\n"
                            : render_readings(rows, session.look));
  return kExitDone;
}

}  // namespace

int do_events(Session& session) {
  const auto reader = open_journal(session.globals.journal);
  session.look.style = style_in_force(*reader);
  std::vector<EventKind> kinds;
  if (!session.args.kind.empty()) kinds.push_back(parse_kind(session.args.kind));
  const auto rows =
      reader->events(span_of(session, *reader, ""), kinds,
                     limit_of(session, session.args.since.empty() ? kEventsShown : kMostEvents));
  warn_of_trouble(session, *reader);
  json list = json::array();
  Table table({Side::left, Side::left});
  for (const journal::EventRow& row : rows) {
    list.push_back(event_json(row, session.look.style));
    table.add({stamp_text(row.at),
               words::printable(words::sentence(row.event, session.look.style, row.name))});
  }
  session.show({{"events", list}}, rows.empty() ? "No such events in that time.\n"
                                                : table.text(session.look, kPageWidth));
  return kExitDone;
}

int do_readings(Session& session) {
  const auto reader = open_journal(session.globals.journal);
  session.look.style = style_in_force(*reader);
  if (!session.args.words.empty()) return readings_of_point(session, *reader);
  const auto rows = reader->summaries(span_of(session, *reader, "24h"));
  warn_of_trouble(session, *reader);
  json list = json::array();
  for (const auto& row : rows) list.push_back(summary_json(row));
  session.show({{"points", list}},
               rows.empty() ? "No readings in that time.\n" : render_summaries(rows, session.look));
  return kExitDone;
}

}  // namespace neap::client
