#include "daemon/client/chart.h"

#include <algorithm>
#include <cmath>

#include "daemon/client/stages.h"
#include "daemon/core/programme.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

constexpr double kQuantaShown = 20;  // a constant is no mountain range of its own rounding (choice)

// Wall time of a journal that may know none: its ticks then.
class Axis {
 public:
  Axis(journal::Reader& reader, std::int64_t from, std::int64_t to) : reader_(reader) {
    const auto begin = reader.stamp(from).unix_ms;
    const auto end = reader.stamp(to).unix_ms;
    walled_ = begin && end && *begin < *end;
    span = walled_ ? Stretch{*begin, *end} : Stretch{from, to};
  }
  std::int64_t at(std::int64_t tick) const {
    return walled_ ? reader_.stamp(tick).unix_ms.value_or(span.from) : tick;
  }
  std::int64_t tick(std::int64_t at) const {
    return walled_ ? reader_.tick_at(at).value_or(at) : at;
  }
  bool walled() const { return walled_; }
  Stretch at(Stretch ticks) const { return {at(ticks.from), at(ticks.to)}; }

  Stretch span;

 private:
  journal::Reader& reader_;
  bool walled_ = false;
};

std::optional<Scale> watched(const StagePlan& stage, Hand hand) {
  const auto& target = stage.solution[static_cast<std::size_t>(hand)];
  if (!target) return std::nullopt;
  return Scale{target->low, target->high};
}

std::optional<Scale> band_of(const Plan& plan, const StagePlan& stage, Point point,
                             std::int64_t local_ms) {
  if (point == Point::solution_ph) return watched(stage, Hand::ph);
  if (point == Point::solution_ec) return watched(stage, Hand::ec);
  if (point == Point::reservoir_level) return watched(stage, Hand::level);
  if (point == Point::solution_temperature) return watched(stage, Hand::temperature);
  const Point banded = plan.climate.band_of == BandOf::leaf ? Point::leaf_vpd : Point::canopy_vpd;
  if (point != banded || stage.fallow) return std::nullopt;
  const Band band = band_at(stage, civil_of({local_ms, 0, TimeQuality::synced}));
  return Scale{band.low.value, band.high.value};
}

// A column that is longer than light and dark has the band from its lowest to its highest edge, as
// its least and its greatest value are of all of it.
void put_bands(journal::Reader& reader, const Plan& plan, const std::vector<std::int64_t>& edges,
               Chart& chart) {
  constexpr std::int64_t kLooks = 24;  // at a column (choice)
  constexpr std::int64_t kClosest = Millis{minutes{10}}.count();
  Stages stages(reader, plan, edges.front(), edges.back());
  for (std::size_t i = 0; i + 1 < edges.size(); ++i) {
    const std::int64_t width = edges[i + 1] - edges[i];
    if (width == 0) continue;  // an outage: no programme was run
    const std::int64_t step = std::max(kClosest, width / kLooks);
    for (std::int64_t tick = edges[i] + std::min(step, width) / 2; tick <= edges[i + 1];
         tick += step) {
      const auto local = local_ms_of(reader.stamp(tick));
      const StagePlan& stage = stages.at(tick);
      for (Curve& curve : chart.curves) {
        const auto here = local ? band_of(plan, stage, curve.point, *local) : std::nullopt;
        auto& band = curve.columns[i].band;
        if (here)
          band = band ? Scale{std::min(band->low, here->low), std::max(band->high, here->high)}
                      : *here;
      }
    }
  }
}

// A column that is narrower than the time between two readings has what the last one before it
// said, for as long as that stands.
void put_figures(const std::vector<journal::Rolled>& rolled, const std::vector<std::int64_t>& edges,
                 Millis stands, Curve& curve) {
  const journal::Rolled* last = nullptr;
  double sum = 0;
  std::int64_t count = 0;
  for (std::size_t i = 0; i < rolled.size(); ++i) {
    const journal::Rolled& here = rolled[i];
    const bool lead_in = i == 0;  // before the span: only what still stands in it
    auto& figures = curve.columns[lead_in ? 0 : i - 1].figures;
    if (here.count > 0) {
      last = &here;
      if (lead_in) continue;
      figures = {here.lowest, here.mean, here.highest};
      sum += here.mean * static_cast<double>(here.count);
      count += here.count;
      auto& whole = curve.whole;
      whole = whole ? ChartColumn::Figures{std::min(whole->least, here.lowest), 0,
                                           std::max(whole->greatest, here.highest)}
                    : *figures;
      curve.newest = here.last;
    } else if (here.missing > 0) {
      last = nullptr;
    } else if (last != nullptr && !last->ended_missing && !lead_in && edges[i] < edges[i + 1] &&
               edges[i] - last->last_tick <= stands.count()) {
      figures = {last->last, last->last, last->last};
    }
  }
  if (curve.whole) curve.whole->mean = sum / static_cast<double>(count);
}

std::vector<std::int64_t> edges_of(const Axis& axis, const ChartAsk& ask) {
  std::vector<std::int64_t> edges{ask.from};
  const std::int64_t columns = static_cast<std::int64_t>(ask.columns);
  for (std::int64_t i = 1; i < columns; ++i) {
    const std::int64_t at = axis.span.from + (axis.span.to - axis.span.from) * i / columns;
    edges.push_back(std::clamp(axis.tick(at), edges.back(), ask.to));
  }
  edges.push_back(ask.to + 1);  // the newest reading lies on the end
  return edges;
}

}  // namespace

std::int64_t Chart::column_ms() const {
  const std::size_t columns = curves.empty() ? 1 : curves.front().columns.size();
  return (span.to - span.from) / static_cast<std::int64_t>(std::max<std::size_t>(1, columns));
}

std::int64_t Chart::column_begin(std::size_t column) const {
  const std::int64_t columns = static_cast<std::int64_t>(curves.front().columns.size());
  return span.from + (span.to - span.from) * static_cast<std::int64_t>(column) / columns;
}

Chart gather_chart(journal::Reader& reader, const Plan& plan, const ChartAsk& ask) {
  const Axis axis(reader, ask.from, ask.to);
  Chart chart;
  chart.name = plan.name;
  chart.walled = axis.walled();
  chart.span = axis.span;
  chart.from = reader.stamp(ask.from);
  chart.to = reader.stamp(ask.to);
  chart.marks = time_marks(axis.span, ask.most_marks, [&](std::int64_t at) {
    auto local = local_ms_of(reader.stamp(axis.tick(at)));
    // In an outage the clock goes on by the offset of its end.
    if (local) *local += at - axis.at(axis.tick(at));
    return local;
  });
  const std::vector<std::int64_t> edges = edges_of(axis, ask);
  std::vector<std::int64_t> with_lead_in = edges;
  Millis longest{0};
  for (const Point point : ask.points) longest = std::max(longest, held(plan, point));
  with_lead_in.insert(with_lead_in.begin(), ask.from - longest.count());
  const auto rolled = reader.roll_up(ask.points, with_lead_in);
  for (std::size_t i = 0; i < ask.points.size(); ++i) {
    Curve curve;
    curve.point = ask.points[i];
    curve.columns.resize(ask.columns);
    put_figures(rolled[i], with_lead_in, held(plan, curve.point), curve);
    chart.curves.push_back(std::move(curve));
  }
  put_bands(reader, plan, edges, chart);
  const Stretch ticks{ask.from, ask.to};
  for (const Stretch& flood : floods_of(reader, ticks)) chart.floods.push_back(axis.at(flood));
  for (const journal::AlarmSpan& alarm : reader.alarms({ask.from, ask.to}))
    chart.alarms.push_back({alarm.alarm, axis.at(stretch_of(alarm, ticks))});
  return chart;
}

double in_style(Point point, double value, const words::Style& style) {
  if (style.metric) return value;
  if (info(point).unit == "C") return value * 1.8 + 32;
  return info(point).unit == "L" ? value / words::kLitresPerGallon : value;
}

std::string unit_in_style(Point point, const words::Style& style) {
  const std::string unit(info(point).unit);
  if (style.metric) return unit;
  return unit == "C" ? "F" : unit == "L" ? "gal" : unit;
}

std::optional<Scale> scale_of(const Curve& curve, const words::Style& style) {
  if (!curve.whole) return std::nullopt;
  Scale scale{curve.whole->least, curve.whole->greatest};
  for (const ChartColumn& column : curve.columns) {
    // A value that stands from before the span may lie outside what was read in it.
    if (const auto& figures = column.figures)
      scale = {std::min(scale.low, figures->least), std::max(scale.high, figures->greatest)};
    if (column.band)
      scale = {std::min(scale.low, column.band->low), std::max(scale.high, column.band->high)};
  }
  const double least = kQuantaShown * info(curve.point).quantum;
  if (info(curve.point).kind == PointKind::contact) {
    scale = {0, std::max(1.0, scale.high)};
  } else if (scale.high - scale.low < least) {
    const double middle = (scale.low + scale.high) / 2;
    scale = {middle - least / 2, middle + least / 2};
  }
  return Scale{in_style(curve.point, scale.low, style), in_style(curve.point, scale.high, style)};
}

bool has_band(const Curve& curve) {
  return curve.whole &&
         std::any_of(curve.columns.begin(), curve.columns.end(),
                     [](const ChartColumn& column) { return column.band.has_value(); });
}

std::string column_text(const Chart& chart) {
  return words::duration(Millis{std::max<std::int64_t>(1000, chart.column_ms())});
}

}  // namespace neap::client
