// `neap chart`.
#include <algorithm>

#include "daemon/client/chart.h"
#include "daemon/client/failure.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/page_file.h"
#include "daemon/client/parse.h"
#include "daemon/client/records_json.h"
#include "daemon/client/verbs.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::size_t kWidest = 400;  // a page wider than this is no terminal (choice)

// Points that the tent measures, and those that are worked out from them.
std::vector<std::string_view> names_of_tent(const Plan& plan) {
  std::vector<std::string_view> names;
  for (const PointInfo& row : kPoints)
    if (plan.points[source_of(row.point)]) names.push_back(row.name);
  return names;
}

std::vector<Point> points_of(const Session& session, const Plan& plan) {
  std::vector<Point> points;
  for (const std::string& word : session.args.words) {
    try {
      points.push_back(parse_point(word));
    } catch (const Failure& failure) {
      const std::vector<std::string_view> names = names_of_tent(plan);
      const std::string near = nearest(word, names);
      std::string remedy = near.empty() ? "" : "did you mean \"" + near + "\"? ";
      remedy += "This tent has ";
      for (const std::string_view name : names)
        remedy += (name == names.front() ? "" : ", ") + std::string(name);
      throw Failure(failure.code(), failure.what(), remedy);
    }
  }
  if (points.empty())
    points.push_back(plan.climate.band_of == BandOf::leaf ? Point::leaf_vpd : Point::canopy_vpd);
  return points;
}

ChartPage page_of(const Session& session) {
  const std::size_t columns = session.around.out_columns;
  const bool known = session.around.out_is_terminal && columns > 0;
  const std::size_t width = session.args.narrow ? kPhoneWidth
                            : known             ? std::clamp(columns, kPhoneWidth, kWidest)
                                                : kPageWidth;
  return {width, !session.args.ascii && shows_utf8(session.around)};
}

json figures_json(const std::optional<ChartColumn::Figures>& figures) {
  if (!figures) return nullptr;
  return {{"least", figures->least}, {"mean", figures->mean}, {"greatest", figures->greatest}};
}

json curve_json(const Chart& chart, const Curve& curve) {
  json columns = json::array();
  for (std::size_t i = 0; i < curve.columns.size(); ++i) {
    const ChartColumn& column = curve.columns[i];
    json each = figures_json(column.figures);
    if (each.is_null()) each = {{"least", nullptr}, {"mean", nullptr}, {"greatest", nullptr}};
    each[chart.walled ? "unix_ms" : "tick"] = chart.column_begin(i);
    each["band"] = column.band ? json{column.band->low, column.band->high} : json(nullptr);
    columns.push_back(std::move(each));
  }
  return {{"point", info(curve.point).name},
          {"unit", info(curve.point).unit},
          {"whole", figures_json(curve.whole)},
          {"newest", curve.newest ? json(*curve.newest) : json(nullptr)},
          {"columns", columns}};
}

json chart_json(const Chart& chart) {
  const std::string suffix = chart.walled ? "_unix_ms" : "_tick";
  const auto stretch_json = [&](const Stretch& stretch) {
    return json{{"from" + suffix, stretch.from}, {"to" + suffix, stretch.to}};
  };
  json out = {{"from", stamp_json(chart.from)},
              {"to", stamp_json(chart.to)},
              {"column_s", as_seconds(Millis{chart.column_ms()})},
              {"points", json::array()},
              {"floods", json::array()},
              {"alarms", json::array()}};
  for (const Curve& curve : chart.curves) out["points"].push_back(curve_json(chart, curve));
  for (const Stretch& flood : chart.floods) out["floods"].push_back(stretch_json(flood));
  for (const ChartAlarm& alarm : chart.alarms) {
    json each = stretch_json(alarm.stretch);
    each["alarm"] = info(alarm.alarm).name;
    out["alarms"].push_back(std::move(each));
  }
  return out;
}

}  // namespace

int do_chart(Session& session) {
  const std::string& svg = session.args.svg;
  if (!svg.empty()) check_page_path(kSvgOption, svg);
  const auto reader = open_journal(session.globals.journal);
  const Plan plan = plan_in_force(session, *reader);
  session.look.style.metric = plan.metric;
  const ChartPage page = page_of(session);
  ChartAsk ask;
  ask.points = points_of(session, plan);
  const auto [from, to] = asked_within(*reader, span_of(session, *reader, "24h"));
  ask.from = from;
  ask.to = to;
  ask.columns = columns_of(page);
  ask.most_marks = marks_of(page);
  const Chart chart = gather_chart(*reader, plan, ask);
  warn_of_trouble(session, *reader);
  if (!svg.empty()) {
    ask.columns = kSvgColumns;
    ask.most_marks = kSvgMarks;
    save_page(kSvgOption, svg, draw(gather_chart(*reader, plan, ask), session.look.style));
  }
  session.show(chart_json(chart), render_chart(chart, page, session.look));
  return kExitDone;
}

}  // namespace neap::client
