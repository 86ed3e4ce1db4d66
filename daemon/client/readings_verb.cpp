// neap readings: from the journal alone, with or without a daemon.
#include <algorithm>
#include <map>

#include "daemon/client/csv.h"
#include "daemon/client/failure.h"
#include "daemon/client/interrupt.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/parse.h"
#include "daemon/client/record_form.h"
#include "daemon/client/records_json.h"
#include "daemon/client/verbs.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using journal::ReadingRow;
using nlohmann::json;
using Side = Table::Side;

constexpr int kShown = 2000;

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

std::string note_of(const ReadingRow& row) {
  if (!row.value) return std::string(words::name(row.fault));
  return row.quality == Quality::good ? std::string() : std::string(words::name(row.quality));
}

// One point needs no name in each line.
std::string render_readings(const std::vector<ReadingRow>& rows, bool named, const Look& look) {
  Table table(named ? std::vector{Side::left, Side::left, Side::right, Side::left}
                    : std::vector{Side::left, Side::right, Side::left});
  for (const ReadingRow& row : rows) {
    std::vector<Cell> cells{stamp_text(row.at)};
    if (named) cells.emplace_back(info(row.point).name);
    cells.emplace_back(row.value ? words::value(row.point, *row.value, look.style)
                                 : std::string("-"));
    cells.emplace_back(note_of(row), row.value ? Tone::plain : Tone::warning);
    table.add(std::move(cells));
  }
  return table.text(look, kPageWidth);
}

struct Asking {
  std::vector<Point> points;
  Millis every{0};
  int limit = 0;  // of each point
};

// In order of time.
std::vector<ReadingRow> ask(journal::Reader& reader, const journal::Span& span,
                            const Asking& asking) {
  std::vector<ReadingRow> all;
  for (const Point point : asking.points) {
    const auto rows = reader.readings(point, span, asking.every.count(), asking.limit);
    all.insert(all.end(), rows.begin(), rows.end());
  }
  std::stable_sort(all.begin(), all.end(),
                   [](const ReadingRow& a, const ReadingRow& b) { return a.at.tick < b.at.tick; });
  return all;
}

// A row a moment, with value and quality of each point.
std::string csv_head(const std::vector<Point>& points) {
  std::vector<std::string> cells{"time"};
  for (const Point point : points) {
    const std::string name(info(point).name);
    const std::string unit(info(point).unit);
    cells.push_back(unit.empty() ? name : name + " (" + unit + ")");
    cells.push_back(name + " quality");
  }
  return csv_row(cells);
}

std::string csv_rows(const std::vector<ReadingRow>& rows, const std::vector<Point>& points) {
  std::string out;
  for (auto row = rows.begin(); row != rows.end();) {
    const auto end = std::find_if(
        row, rows.end(), [&](const ReadingRow& each) { return each.at.tick != row->at.tick; });
    std::vector<std::string> cells{iso_time(row->at)};
    for (const Point point : points) {
      const auto found =
          std::find_if(row, end, [&](const ReadingRow& each) { return each.point == point; });
      cells.push_back(found == end ? std::string() : number_cell(found->value));
      cells.emplace_back(found == end    ? std::string_view()
                         : !found->value ? words::name(found->fault)
                                         : words::name(found->quality));
    }
    out += csv_row(cells);
    row = end;
  }
  return out;
}

void print(const std::vector<ReadingRow>& rows, const Asking& asking, Form form,
           const Session& session) {
  if (form == Form::table)
    session.out() << render_readings(rows, asking.points.size() > 1, session.look);
  if (form == Form::csv) session.out() << csv_rows(rows, asking.points);
  if (form == Form::lines)
    for (const ReadingRow& row : rows) session.out() << json_line(reading_json(row));
}

// Each point's readings are written in order of time, but one point's may come a minute after
// another's: what was printed is remembered for each.
void follow(FollowedJournal& followed, Asking asking, Form form, std::int64_t from,
            const std::vector<ReadingRow>& printed, const Session& session) {
  const Interrupt interrupt;
  asking.limit = kMostRecords;
  std::map<Point, std::int64_t> last;
  for (const Point point : asking.points) last[point] = from;
  for (const ReadingRow& row : printed) last[row.point] = std::max(last[row.point], row.at.tick);
  while (followed.wait()) {
    journal::Reader& reader = followed.reader();
    if (followed.replaced() && reader.last_tick().value_or(from) < from)
      for (auto& [point, tick] : last) tick = reader.first_tick().value_or(0) - 1;
    std::vector<ReadingRow> rows;
    for (auto& [point, tick] : last) {
      Asking one{{point}, asking.every, asking.limit};
      for (ReadingRow& row : ask(reader, {tick + 1, std::nullopt}, one)) {
        tick = std::max(tick, row.at.tick);
        rows.push_back(row);
      }
    }
    std::stable_sort(rows.begin(), rows.end(), [](const ReadingRow& a, const ReadingRow& b) {
      return a.at.tick < b.at.tick;
    });
    print(rows, asking, form, session);
    from = std::max(from, reader.last_tick().value_or(from));
  }
}

Asking asking_of(const Session& session, Form form) {
  Asking asking;
  for (const std::string& word : session.args.words) {
    const Point point = parse_point(word);
    if (std::find(asking.points.begin(), asking.points.end(), point) == asking.points.end())
      asking.points.push_back(point);
  }
  const std::string& every = session.args.every;
  if (!every.empty()) asking.every = parse_duration("--every", every, seconds{1}, hours{24 * 31});
  if (!every.empty() && session.args.follow)
    throw Failure(kExitUsage, "--every makes means of a time that is over, and --follow has no end",
                  "leave one of them out");
  const bool whole = form == Form::csv || form == Form::lines;
  asking.limit = limit_of(session, whole ? kMostRecords : kShown);
  return asking;
}

int readings_of_points(Session& session, Form form) {
  const Asking asking = asking_of(session, form);
  FollowedJournal followed(session);
  session.look.style = style_in_force(followed.reader());
  const journal::Span span = span_of(session, followed.reader(), "1h");
  const auto rows = ask(followed.reader(), span, asking);
  warn_of_trouble(session, followed.reader());
  if (form == Form::json) {
    json list = json::array();
    for (const ReadingRow& row : rows) list.push_back(reading_json(row));
    session.show({{"readings", list}}, "");
    return kExitDone;
  }
  if (form == Form::csv) session.out() << csv_head(asking.points);
  print(rows, asking, form, session);
  if (session.args.follow) {
    follow(followed, asking, form, span.from.value_or(0), rows, session);
  } else if (rows.empty() && form == Form::table) {
    const std::string what =
        asking.points.size() == 1 ? std::string(info(asking.points.front()).name) : "these points";
    session.out() << "No readings of " << what << " in that time.\n";
  }
  return kExitDone;
}

}  // namespace

int do_readings(Session& session) {
  const Form form = form_of(session);
  if (!session.args.words.empty()) return readings_of_points(session, form);
  if (form == Form::csv || form == Form::lines || session.args.follow)
    throw Failure(kExitUsage, "of which point is not said",
                  "write: neap readings canopy.vpd --csv; `neap export FOLDER` has all of them");
  const auto reader = open_journal(session.globals.journal);
  session.look.style = style_in_force(*reader);
  const auto rows = reader->summaries(span_of(session, *reader, "24h"));
  warn_of_trouble(session, *reader);
  json list = json::array();
  for (const auto& row : rows) list.push_back(summary_json(row));
  session.show({{"points", list}},
               rows.empty() ? "No readings in that time.\n" : render_summaries(rows, session.look));
  return kExitDone;
}

}  // namespace neap::client
