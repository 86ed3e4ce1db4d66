// What `neap chart` draws: readings of points rolled up into equal columns of wall time, so that an
// outage, in which no tick was counted, is as wide as it was long. Gathering reads the journal,
// drawing is pure.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "daemon/client/look.h"
#include "daemon/client/marked.h"

namespace neap::client {

struct ChartColumn {
  struct Figures {
    double least = 0;
    double mean = 0;
    double greatest = 0;
  };
  std::optional<Figures> figures;  // none: there was no value, which stays a gap
  std::optional<Scale> band;       // of the programme then
};

struct Curve {
  Point point = Point::canopy_vpd;
  std::vector<ChartColumn> columns;
  std::optional<ChartColumn::Figures> whole;  // of the span
  std::optional<double> newest;
};

struct ChartAlarm {
  Alarm alarm;
  Stretch stretch;
};

struct Chart {
  std::string name;    // of the settings
  bool walled = true;  // times are unix ms; else ticks, as the journal knows no clock at an end
  Stretch span;
  journal::Stamp from, to;
  std::vector<TimeMark> marks;
  std::vector<Curve> curves;
  std::vector<Stretch> floods;
  std::vector<ChartAlarm> alarms;

  std::int64_t column_ms() const;
  std::int64_t column_begin(std::size_t column) const;
};

// What is drawn of a journal, and how finely.
struct ChartAsk {
  std::vector<Point> points;
  std::int64_t from = 0;  // ticks
  std::int64_t to = 0;    // after `from`
  std::size_t columns = 144;
  std::int64_t most_marks = 9;
};
Chart gather_chart(journal::Reader& reader, const Plan& plan, const ChartAsk& ask);

// A curve as a person reads it, in the units of `style`: figures, the scale's ends, its unit.
double in_style(Point point, double value, const words::Style& style);
std::string unit_in_style(Point point, const words::Style& style);
// Over the curve and its band, at least as wide as what can be told apart; none without a value.
std::optional<Scale> scale_of(const Curve& curve, const words::Style& style);
// Whether a band is drawn behind it.
bool has_band(const Curve& curve);
// "10 min", of a column.
std::string column_text(const Chart& chart);

struct ChartPage {
  std::size_t width = kPageWidth;
  bool utf8 = true;
};
std::size_t plot_width(const ChartPage& page);  // characters
std::size_t columns_of(const ChartPage& page);  // that gather_chart is asked for
std::int64_t marks_of(const ChartPage& page);   // likewise
std::string render_chart(const Chart& chart, const ChartPage& page, const Look& look);
// Its parts: one curve under its figures, in `rows` characters; and what lies below all of them,
// floods, alarms and times.
std::string panel_text(const Curve& curve, const ChartPage& page, std::size_t rows,
                       const Look& look);
std::string axis_text(const Chart& chart, const ChartPage& page, const Look& look);

constexpr std::size_t kSvgColumns = kPictureColumns / 2;
constexpr std::int64_t kSvgMarks = 9;
std::string draw(const Chart& chart, const words::Style& style);

}  // namespace neap::client
