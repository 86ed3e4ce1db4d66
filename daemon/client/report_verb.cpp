// `neap report`: from the journal only, with or without a daemon.
#include <algorithm>
#include <array>

#include "daemon/client/care.h"
#include "daemon/client/diary.h"
#include "daemon/client/failure.h"
#include "daemon/client/grow.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/marked.h"
#include "daemon/client/page_file.h"
#include "daemon/client/parse.h"
#include "daemon/client/report_html.h"
#include "daemon/client/verbs.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

constexpr int kMostRows = 100'000;
const PageOption kHtmlOption{"--html", ".html"};

// One photoperiod, by the civil date of its lights-on.
journal::Span span_of_day(journal::Reader& reader, const Plan& plan, const std::string& text) {
  const DateTime day = parse_date_time("--day", text);
  const std::int32_t date = day.civil.date;
  for (const journal::DayEntry& entry : reader.days({}))
    if (entry.tally.date == date) {
      const auto closed =
          reader.events({entry.tally.began_tick, std::nullopt}, {EventKind::day_closed}, kMostRows);
      for (const journal::EventRow& row : closed)
        if (row.event.day.began_tick == entry.tally.began_tick)
          return {entry.tally.began_tick, row.at.tick};
    }
  const StagePlan& stage = plan.programme.stages.front();
  const std::int64_t from = tick_of(reader, {date, stage.lights_on_s});
  const std::int64_t to = tick_of(reader, {date + 1, stage.lights_on_s});
  return {from, std::min(to, last_tick(reader))};
}

// The one under way, else the last that was.
journal::Span span_of_grow(const Session& session) {
  const std::vector<Grow> grows = grows_of(diary_of(session));
  if (grows.empty())
    throw Failure(kExitRefused, "no grow was told of",
                  "`neap grow start NAME CROP` begins one; --since 42d reports a length of time");
  const Grow& grow = grows.back();
  journal::Span span{grow.from.tick, std::nullopt};
  if (grow.to) span.to = grow.to->tick;
  return span;
}

journal::Span span_asked(const Session& session, journal::Reader& reader, const Plan& plan) {
  const Arguments& args = session.args;
  if (!args.day.empty()) return span_of_day(reader, plan, args.day);
  if (args.words.empty()) return span_of(session, reader, "1d");
  const std::string& word = args.words.front();
  if (word != "day" && word != "week" && word != "grow")
    throw Failure(kExitUsage, "there is no report of \"" + words::printable(word) + "\"",
                  "write day, week or grow; or --day 2026-06-01, or --since 3d");
  if (!args.since.empty())
    throw Failure(kExitUsage, "a " + word + " and --since are two beginnings", "leave one out");
  if (word == "grow") return span_of_grow(session);
  return span_of(session, reader, word == "day" ? "1d" : "7d");
}

// What a grower looks at first, and what of it this tent measures.
Chart curves_of(journal::Reader& reader, const Plan& plan, const Asked& span) {
  ChartAsk ask;
  ask.points.push_back(plan.climate.band_of == BandOf::leaf ? Point::leaf_vpd : Point::canopy_vpd);
  for (const Point point :
       {Point::canopy_temperature, Point::canopy_humidity, Point::solution_ph, Point::solution_ec,
        Point::solution_temperature, Point::reservoir_level})
    if (plan.points[source_of(point)]) ask.points.push_back(point);
  ask.from = span.from;
  ask.to = span.to;
  ask.columns = kSvgColumns;
  ask.most_marks = kSvgMarks;
  return gather_chart(reader, plan, ask);
}

// What stands at the end of the journal, and what a person does about it.
void add_to_do(Report& report) {
  for (const journal::AlarmSpan& span : report.alarms)
    if (!span.cleared)
      report.due.push_back(std::string(info(span.alarm).title) + ": " +
                           std::string(info(span.alarm).remedy));
}

}  // namespace

int do_report(Session& session) {
  const std::string& html = session.args.html;
  if (!html.empty()) check_page_path(kHtmlOption, html);
  const auto reader = open_journal(session.globals.journal);
  const settings::Loaded loaded = settings_in_force(session, *reader);
  const Plan& plan = loaded.plan;
  session.look.style.metric = plan.metric;
  const journal::Span asked = span_asked(session, *reader, plan);
  const Asked span = asked_within(*reader, asked);
  Report report = make_report(*reader, plan, span.from, span.to);
  report.energy = energy_of(*reader, loaded, span.from, span.to);
  if (!asked.to) {  // of the time in hand, not of one gone by
    report.due = care_due(session);
    add_to_do(report);
  }
  if (!html.empty())
    save_page(kHtmlOption, html,
              html_page(report, curves_of(*reader, plan, span), session.look.style));
  session.show(report_json(report, session.look.style), render_report(report, session.look));
  return kExitDone;
}

}  // namespace neap::client
