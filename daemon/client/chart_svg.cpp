// A chart as an SVG document, with the panels of picture.cpp.
#include "daemon/client/chart.h"
#include "daemon/client/records_json.h"

namespace neap::client {
namespace {

constexpr double kPanelHeight = 200;
constexpr double kHeader = 76;  // name and span
constexpr double kStripGap = 14;
constexpr int kLines = 5;
constexpr double kRoom = 0.03;  // of the scale, above and below what is drawn

void put_level(std::vector<Dot>& edge, double left, double right, double y) {
  if (!edge.empty() && edge.back().y == y)
    edge.back().x = right;  // goes on
  else
    edge.insert(edge.end(), {{left, y}, {right, y}});
}

// Runs of columns for which `has` says yes, as an outline of `high` and back along `low`.
template <class Has, class High, class Low>
void draw_outlines(Svg& svg, const Panel& panel, const Chart& chart, std::size_t columns, Has has,
                   High high, Low low, std::string_view css_class) {
  for (std::size_t i = 0; i < columns;) {
    if (!has(i)) {
      ++i;
      continue;
    }
    std::vector<Dot> top;
    std::vector<Dot> bottom;
    for (; i < columns && has(i); ++i) {
      const double left = panel.x(chart.column_begin(i));
      const double right = panel.x(chart.column_begin(i + 1));
      put_level(top, left, right, panel.y(high(i)));
      put_level(bottom, left, right, panel.y(low(i)));
    }
    top.insert(top.end(), bottom.rbegin(), bottom.rend());
    svg.area(top, css_class);
  }
}

Trace means_of(const Chart& chart, const Curve& curve, const words::Style& style) {
  Trace runs;
  bool in_run = false;
  for (std::size_t i = 0; i < curve.columns.size(); ++i) {
    const auto& figures = curve.columns[i].figures;
    if (figures && !in_run) runs.emplace_back();
    in_run = figures.has_value();
    if (figures)
      runs.back().push_back({chart.column_begin(i) + chart.column_ms() / 2,
                             in_style(curve.point, figures->mean, style)});
  }
  return runs;
}

std::string title_of(const Curve& curve, const words::Style& style) {
  const std::string unit = unit_in_style(curve.point, style);
  return std::string(info(curve.point).title) + (unit.empty() ? "" : ", " + unit) +
         (curve.whole ? "" : ": no readings in that time");
}

void draw_curve(Svg& svg, const Chart& chart, const Curve& curve, const words::Style& style,
                double top) {
  Scale scale = scale_of(curve, style).value_or(Scale{});
  const double room = (scale.high - scale.low) * kRoom;
  scale = {scale.low - room, scale.high + room};
  const Panel panel{{kPlotLeft, top, kPictureColumns, kPanelHeight}, chart.span, scale};
  const auto shown = [&](double value) { return in_style(curve.point, value, style); };
  const std::size_t columns = curve.columns.size();
  const auto& at = curve.columns;
  draw_outlines(
      svg, panel, chart, columns, [&](std::size_t i) { return curve.whole && at[i].band; },
      [&](std::size_t i) { return shown(at[i].band->high); },
      [&](std::size_t i) { return shown(at[i].band->low); }, "day");
  draw_grid(svg, chart.marks, panel, kLines);
  draw_outlines(
      svg, panel, chart, columns, [&](std::size_t i) { return at[i].figures.has_value(); },
      [&](std::size_t i) { return shown(at[i].figures->greatest); },
      [&](std::size_t i) { return shown(at[i].figures->least); }, "extremes");
  draw_trace(svg, panel, means_of(chart, curve, style), "mean");
  std::vector<Key> keys{{"mean", "mean"}, {"extremes", "least, greatest", true}};
  if (has_band(curve)) keys.push_back({"day", "band", true});
  draw_heading(svg, panel, title_of(curve, style), keys);
  svg.box(panel.box, "frame");
}

void draw_strip(Svg& svg, const Chart& chart, std::string_view title,
                const std::vector<Stretch>& stretches, std::string_view css_class, double top) {
  const Panel panel{{kPlotLeft, top, kPictureColumns, kStripHeight}, chart.span, {}};
  svg.text({kPlotLeft - 8, panel.box.bottom() - 3}, title, "", Anchor::end);
  draw_stretches(svg, panel, stretches, css_class);
}

}  // namespace

std::string draw(const Chart& chart, const words::Style& style) {
  const double panels = (kHeading + kPanelHeight) * static_cast<double>(chart.curves.size());
  const double height = kHeader + panels + kStripGap + 2 * kStripStep + kTimesHeight;
  Svg svg(kPictureWidth, height, chart.name, kPictureStyle);
  svg.box({0, 0, kPictureWidth, height}, "paper");
  svg.text({8, 36}, chart.name, "name");
  svg.text(
      {8, 65},
      minute_text(chart.from) + " to " + minute_text(chart.to) + ", mean of " + column_text(chart),
      "");
  double at = kHeader;
  for (const Curve& curve : chart.curves) {
    draw_curve(svg, chart, curve, style, at + kHeading);
    at += kHeading + kPanelHeight;
  }
  at += kStripGap;
  std::vector<Stretch> alarms;
  for (const ChartAlarm& each : chart.alarms) alarms.push_back(each.stretch);
  draw_strip(svg, chart, "floods", chart.floods, "flood", at);
  draw_strip(svg, chart, "alarms", alarms, "alarm", at + kStripStep);
  draw_times(svg, chart.marks, chart.span, at + 2 * kStripStep);
  return std::move(svg).done();
}

}  // namespace neap::client
