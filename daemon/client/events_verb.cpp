// neap events: from the journal alone, with or without a daemon.
#include <algorithm>

#include "daemon/client/failure.h"
#include "daemon/client/interrupt.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/parse.h"
#include "daemon/client/record_columns.h"
#include "daemon/client/record_form.h"
#include "daemon/client/records_json.h"
#include "daemon/client/verbs.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using journal::EventRow;
using nlohmann::json;

constexpr int kShown = 50;

// What --about names: an output, a point, an alarm or a latch. Only those that are set count.
struct About {
  std::string word;
  bool is(std::string_view name) const {
    std::string one(name);
    std::replace(one.begin(), one.end(), '-', '_');
    return one == word;
  }
};

About about_of(const Session& session) {
  About about{session.args.about};
  if (about.word == "fan") about.word = info(Output::exhaust_fan).name;
  std::replace(about.word.begin(), about.word.end(), '-', '_');
  if (about.word.empty()) return about;
  std::vector<std::string_view> known;
  for (const OutputInfo& row : kOutputs) known.push_back(row.name);
  for (const PointInfo& row : kPoints) known.push_back(row.name);
  for (const AlarmInfo& row : kAlarms) known.push_back(row.name);
  for (const LatchInfo& row : kLatches) known.push_back(row.name);
  for (const std::string_view name : known)
    if (about.is(name)) return about;
  const std::string near = nearest(session.args.about, known);
  throw Failure(kExitUsage,
                "--about is \"" + words::printable(session.args.about) +
                    "\", and no output, point, alarm or latch is called that",
                near.empty() ? "`neap status` and `neap explain` list their names"
                             : "did you mean \"" + near + "\"?");
}

bool is_about(const Event& event, const About& about) {
  switch (event.kind) {
    case EventKind::actuation:
    case EventKind::would_actuate:
    case EventKind::step_test:
      return about.is(info(event.output).name);
    case EventKind::alarm:
      return about.is(info(event.alarm).name);
    case EventKind::latch_set:
    case EventKind::latch_reset:
      return about.is(info(event.latch).name);
    case EventKind::reading_state:
    case EventKind::calibration:
      return about.is(info(event.point).name);
    case EventKind::flood_phase:
    case EventKind::cycle_closed:
    case EventKind::cycle_settled:
    case EventKind::slot_skipped:
    case EventKind::stage:
    case EventKind::targets:
    case EventKind::request:
    case EventKind::time:
    case EventKind::service:
    case EventKind::day_closed:
    case EventKind::boot:
    case EventKind::settings:
    case EventKind::client:
    case EventKind::fault:
    case EventKind::proof_test:
    case EventKind::would_flood:
    case EventKind::hand_measurement:
      return false;
  }
  return false;
}

std::vector<EventKind> kinds_of(const Session& session) {
  std::vector<EventKind> kinds;
  std::string_view rest = session.args.kind;
  while (!rest.empty()) {
    const std::size_t end = std::min(rest.find(','), rest.size());
    kinds.push_back(parse_kind(rest.substr(0, end)));
    rest.remove_prefix(std::min(end + 1, rest.size()));
  }
  return kinds;
}

struct Asking {
  std::vector<EventKind> kinds;
  About about;
  int limit = 0;
};

std::vector<EventRow> ask(journal::Reader& reader, const journal::Span& span,
                          const Asking& asking) {
  if (asking.about.word.empty()) return reader.events(span, asking.kinds, asking.limit);
  std::vector<EventRow> rows = reader.events(span, asking.kinds, kMostRecords);
  std::erase_if(rows, [&](const EventRow& row) { return !is_about(row.event, asking.about); });
  const auto most = static_cast<std::size_t>(asking.limit);
  if (rows.size() > most) rows.erase(rows.begin(), rows.end() - asking.limit);
  return rows;
}

std::string as_table(const std::vector<EventRow>& rows, const Session& session) {
  Table table({Table::Side::left, Table::Side::left});
  for (const EventRow& row : rows)
    table.add({stamp_text(row.at),
               words::printable(words::sentence(row.event, session.look.style, row.name))});
  return table.text(session.look, kPageWidth);
}

void print(const std::vector<EventRow>& rows, Form form, const Session& session) {
  if (form == Form::table) session.out() << as_table(rows, session);
  for (const EventRow& row : rows) {
    if (form == Form::csv) session.out() << csv_of(event_columns(), row);
    if (form == Form::lines) session.out() << json_line(event_json(row, session.look.style));
  }
}

// A journal's events have numbers without a gap, but some come after a reading of a later tick.
struct Position {
  std::int64_t number = 0;
  std::int64_t tick = 0;
};
constexpr Millis kLate = minutes{2};

Position position_in(journal::Reader& reader) {
  Position at{0, last_tick(reader)};
  for (const EventRow& row : reader.events({}, {}, 1)) at.number = row.number;
  return at;
}

// What is written from `position` on. Another file begins its own numbers.
void follow(FollowedJournal& followed, Asking asking, Form form, Position position,
            const Session& session) {
  const Interrupt interrupt;
  asking.limit = kMostRecords;
  auto& [number, tick] = position;
  while (followed.wait()) {
    journal::Reader& reader = followed.reader();
    if (followed.replaced()) number = 0;
    // One that was lost with its state counts its ticks anew.
    if (followed.replaced() && reader.last_tick().value_or(tick) < tick)
      tick = reader.first_tick().value_or(tick);
    std::vector<EventRow> rows = ask(reader, {tick - kLate.count(), std::nullopt}, asking);
    std::erase_if(rows, [&](const EventRow& row) { return row.number <= number; });
    print(rows, form, session);
    for (const EventRow& row : rows) number = std::max(number, row.number);
    tick = std::max(tick, reader.last_tick().value_or(tick));
  }
}

}  // namespace

int do_events(Session& session) {
  const Form form = form_of(session);
  const bool all = !session.args.since.empty() || form == Form::csv || form == Form::lines;
  Asking asking{kinds_of(session), about_of(session),
                limit_of(session, all ? kMostRecords : kShown)};
  FollowedJournal followed(session);
  session.look.style = style_in_force(followed.reader());
  Position position = position_in(followed.reader());
  const auto rows = ask(followed.reader(), span_of(session, followed.reader(), ""), asking);
  warn_of_trouble(session, followed.reader());
  if (form == Form::json) {
    json list = json::array();
    for (const EventRow& row : rows) list.push_back(event_json(row, session.look.style));
    session.show({{"events", list}}, "");
    return kExitDone;
  }
  if (form == Form::csv) session.out() << csv_head(event_columns());
  print(rows, form, session);
  for (const EventRow& row : rows) position.number = std::max(position.number, row.number);
  if (session.args.follow)
    follow(followed, asking, form, position, session);
  else if (rows.empty() && form == Form::table)
    session.out() << "No such events in that time.\n";
  return kExitDone;
}

}  // namespace neap::client
