// A chart in characters. In UTF-8 a character has two columns and four rows of dots (braille), in
// ASCII one of each.
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "daemon/client/chart.h"
#include "daemon/client/records_json.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

constexpr std::size_t kGutter = 7;  // figures of the scale, titles of strips, and a blank
constexpr std::size_t kAlarmsNamed = 6;
constexpr std::size_t kPhonePage = 60;  // pages narrower than this have lower plots (choice)

struct Glyphs {
  std::string_view band, flood, alarm, line, tick;
};
constexpr Glyphs kUtf8{"\u2591", "\u25b2", "!", "\u2500", "\u252c"};
constexpr Glyphs kAscii{".", "^", "!", "-", "+"};

// What a dot is part of: what tells more hides what tells less.
enum class Ink : std::uint8_t { none, extreme, join, mean };

std::size_t dots_across(bool utf8) { return utf8 ? 2 : 1; }
std::size_t dots_down(bool utf8) { return utf8 ? 4 : 1; }

struct Cell {
  unsigned bits = 0;  // of U+2800
  Ink ink = Ink::none;
  bool banded = false;
  bool outside = false;  // of the band
};

std::string braille(unsigned bits) {
  const unsigned code = 0x2800 + bits;
  return {static_cast<char>(0xE0 | (code >> 12)), static_cast<char>(0x80 | ((code >> 6) & 0x3F)),
          static_cast<char>(0x80 | (code & 0x3F))};
}

class Canvas {
 public:
  Canvas(std::size_t width, std::size_t height, Scale scale, bool utf8)
      : width_(width), height_(height), scale_(scale), utf8_(utf8), cells_(width * height) {}

  // The row of dots, from the top, of a value.
  std::size_t dot_row(double value) const {
    const double last = static_cast<double>(height_ * dots_down(utf8_) - 1);
    const double part = (scale_.high - value) / (scale_.high - scale_.low);
    return static_cast<std::size_t>(std::clamp(std::lround(part * last), 0L, std::lround(last)));
  }
  // Whether a dot beside another only makes the line thicker.
  bool touch(std::size_t a, std::size_t b) const {
    return std::max(a, b) - std::min(a, b) <= (utf8_ ? 1U : 0U);
  }
  std::size_t row(double value) const { return dot_row(value) / dots_down(utf8_); }

  void band(std::size_t column, Scale band) {
    for (std::size_t y = row(band.high); y <= row(band.low); ++y)
      cell(column / dots_across(utf8_), y).banded = true;
  }
  void dot(std::size_t column, std::size_t dot_row, Ink ink, bool outside) {
    // Bits of a braille pattern by column and row of the dot (Unicode, chapter Symbols).
    constexpr unsigned kBits[2][4] = {{0x01, 0x02, 0x04, 0x40}, {0x08, 0x10, 0x20, 0x80}};
    Cell& at = cell(column / dots_across(utf8_), dot_row / dots_down(utf8_));
    if (utf8_) at.bits |= kBits[column % 2][dot_row % 4];
    at.ink = std::max(at.ink, ink);
    at.outside |= outside;
  }
  const Cell& cell(std::size_t x, std::size_t y) const { return cells_[y * width_ + x]; }

  // A row, toned by runs: a sequence for each character would be slow over a thin line.
  std::string line(std::size_t y, const Look& look, const Glyphs& glyphs) const {
    std::string text;
    std::string run;
    Tone tone = Tone::plain;
    for (std::size_t x = 0; x < width_; ++x) {
      const Cell& at = cell(x, y);
      const Tone here = at.ink == Ink::none ? (at.banded ? Tone::good : Tone::plain)
                        : at.outside        ? Tone::warning
                                            : Tone::plain;
      if (here != tone) text += toned(look, tone, std::exchange(run, {}));
      tone = here;
      run += glyph(at, glyphs);
    }
    if (tone == Tone::plain) run.resize(run.find_last_not_of(' ') + 1);
    return text + toned(look, tone, run);
  }

 private:
  std::string glyph(const Cell& at, const Glyphs& glyphs) const {
    constexpr std::array<std::string_view, 4> kInks{" ", "-", ":", "*"};
    if (at.ink == Ink::none) return at.banded ? std::string(glyphs.band) : " ";
    return utf8_ ? braille(at.bits) : std::string(kInks[static_cast<std::size_t>(at.ink)]);
  }
  Cell& cell(std::size_t x, std::size_t y) { return cells_[y * width_ + x]; }

  std::size_t width_, height_;
  Scale scale_;
  bool utf8_;
  std::vector<Cell> cells_;
};

bool outside(const std::optional<Scale>& band, double value) {
  return band && (value < band->low || value > band->high);
}

// Means are joined, so that a steep rise is one line; the least and the greatest are dots.
void put_curve(const Curve& curve, const words::Style& style, Canvas& canvas) {
  bool goes_on = false;  // from the column before
  std::size_t before = 0;
  for (std::size_t i = 0; i < curve.columns.size(); ++i) {
    const ChartColumn& column = curve.columns[i];
    const auto shown = [&](double value) { return in_style(curve.point, value, style); };
    if (column.band) canvas.band(i, {shown(column.band->low), shown(column.band->high)});
    if (!column.figures) {
      goes_on = false;
      continue;
    }
    const bool out = outside(column.band, column.figures->mean);
    const std::size_t here = canvas.dot_row(shown(column.figures->mean));
    for (const double extreme : {column.figures->least, column.figures->greatest})
      if (const std::size_t y = canvas.dot_row(shown(extreme)); !canvas.touch(y, here))
        canvas.dot(i, y, Ink::extreme, outside(column.band, extreme));
    canvas.dot(i, here, Ink::mean, out);
    if (goes_on)
      for (std::size_t y = std::min(before, here) + 1; y < std::max(before, here); ++y)
        canvas.dot(i, y, Ink::join, out);
    goes_on = true;
    before = here;
  }
}

std::string right(std::string_view text, std::size_t width) {
  const std::string cut = clipped(text, width);
  return std::string(width - columns(cut), ' ') + cut;
}

// "air VPD: least 0.61 kPa, mean 0.93 kPa, greatest 1.44 kPa, newest 1.02 kPa".
std::string heading_of(const Curve& curve, const words::Style& style, std::size_t width) {
  const std::string title(info(curve.point).title);
  if (!curve.whole) return joined({title + ":", "no readings", "in that time"}, width);
  const auto shown = [&](double value) { return words::value(curve.point, value, style); };
  if (info(curve.point).kind == PointKind::contact)
    return title + ": newest " + shown(*curve.newest);
  return joined(
      {title + ":", "least " + shown(curve.whole->least) + ",",
       "mean " + shown(curve.whole->mean) + ",", "greatest " + shown(curve.whole->greatest) + ",",
       "newest " + shown(*curve.newest)},
      width);
}

// "box-room, 2026-06-01 14:00 to 16:00".
std::string head_of(const Chart& chart, std::size_t width) {
  const std::string from = minute_text(chart.from);
  std::string to = minute_text(chart.to);
  if (const std::string day = from.substr(0, from.find(' ') + 1);
      chart.walled && to.starts_with(day))
    to = to.substr(day.size());
  return joined({clipped(words::printable(chart.name), width - 1) + ",", from, "to " + to}, width);
}

// The figure of the scale that stands beside each row; empty for most.
std::vector<std::string> figures_of(const Curve& curve, Scale scale, double step,
                                    const Canvas& canvas, std::size_t rows) {
  std::vector<std::string> figures(rows);
  const bool contact = info(curve.point).kind == PointKind::contact;
  const int steps = static_cast<int>(std::lround((scale.high - scale.low) / step));
  for (int i = 0; i <= steps; ++i) {
    const double v = scale.low + i * step;
    figures[canvas.row(v)] =
        contact ? words::value(curve.point, v) : words::decimals(v, decimals_of(step));
  }
  return figures;
}

std::size_t character_of(const Chart& chart, const ChartPage& page, std::int64_t at) {
  const double part =
      static_cast<double>(at - chart.span.from) /
      static_cast<double>(std::max<std::int64_t>(1, chart.span.to - chart.span.from));
  const double last = static_cast<double>(plot_width(page) - 1);
  return static_cast<std::size_t>(
      std::clamp(std::floor(part * static_cast<double>(plot_width(page))), 0.0, last));
}

std::string strip_text(const Chart& chart, const ChartPage& page, std::string_view title,
                       const std::vector<Stretch>& stretches, std::string_view glyph,
                       std::string_view shown) {
  if (stretches.empty()) return {};
  std::vector<bool> covered(plot_width(page), false);
  for (const Stretch& stretch : stretches)
    for (std::size_t x = character_of(chart, page, stretch.from);
         x <= character_of(chart, page, stretch.to); ++x)
      covered[x] = true;
  std::string line;
  std::string blanks;
  for (const bool each : covered) {
    if (!each) {
      blanks += ' ';
      continue;
    }
    line += blanks + std::string(shown.empty() ? glyph : shown);
    blanks.clear();
  }
  return right(title, kGutter - 1) + " " + line + "\n";
}

std::string times_text(const Chart& chart, const ChartPage& page, const Glyphs& glyphs) {
  if (chart.marks.empty()) return {};
  const std::size_t width = plot_width(page);
  std::vector<bool> ticks(width, false);
  std::string labels(kGutter + width, ' ');
  std::size_t free_from = 0;
  for (const TimeMark& mark : chart.marks) {
    const std::size_t x = character_of(chart, page, mark.tick);
    ticks[x] = true;
    const std::size_t size = mark.label.size();
    const std::size_t at = std::min(kGutter + x - size / 2, labels.size() - size);
    if (at < free_from) continue;
    labels.replace(at, size, mark.label);
    free_from = at + size + 1;
  }
  std::string line(kGutter, ' ');
  for (const bool tick : ticks) line += tick ? glyphs.tick : glyphs.line;
  return line + "\n" + labels.substr(0, labels.find_last_not_of(' ') + 1) + "\n";
}

std::string legend_of(const Chart& chart, const ChartPage& page, const Glyphs& glyphs) {
  std::string text = std::string(page.utf8 ? "line" : "*") + ": mean of " + column_text(chart) +
                     ", " + (page.utf8 ? "dots beside it" : "-") + ": least and greatest";
  if (std::any_of(chart.curves.begin(), chart.curves.end(), has_band))
    text += ", " + std::string(glyphs.band) + ": band";
  return text;
}

// "5 floods; 2 alarms: leak, reservoir_low".
std::string marked_text(const Chart& chart) {
  const auto counted = [](std::size_t count, const char* one, const char* many) {
    return std::to_string(count) + " " + (count == 1 ? one : many);
  };
  std::vector<std::string_view> names;
  for (const ChartAlarm& each : chart.alarms)
    if (std::find(names.begin(), names.end(), info(each.alarm).name) == names.end())
      names.push_back(info(each.alarm).name);
  std::string text = counted(chart.floods.size(), "flood", "floods") + "; " +
                     counted(chart.alarms.size(), "alarm", "alarms");
  for (std::size_t i = 0; i < std::min(names.size(), kAlarmsNamed); ++i)
    text += (i == 0 ? ": " : ", ") + std::string(names[i]);
  return names.size() > kAlarmsNamed ? text + " and others" : text;
}

// Odd, so that the middle of a scale is a row.
std::size_t rows_of(const Chart& chart, const ChartPage& page) {
  const bool phone = page.width < kPhonePage;
  if (chart.curves.size() == 1) return phone ? 7 : 11;
  return phone ? 5 : 7;
}

}  // namespace

std::size_t plot_width(const ChartPage& page) { return page.width - kGutter; }

std::size_t columns_of(const ChartPage& page) { return plot_width(page) * dots_across(page.utf8); }

std::int64_t marks_of(const ChartPage& page) {
  constexpr std::size_t kLabelled = 7;  // characters for a label and what parts it from the next
  return static_cast<std::int64_t>(std::max<std::size_t>(3, plot_width(page) / kLabelled));
}

std::string panel_text(const Curve& curve, const ChartPage& page, std::size_t rows,
                       const Look& look) {
  std::string text = toned(look, Tone::strong, heading_of(curve, look.style, page.width)) + "\n";
  const auto reach = scale_of(curve, look.style);
  if (!reach) return text;
  const bool contact = info(curve.point).kind == PointKind::contact;
  const double step =
      contact ? 1 : step_of(*reach, static_cast<int>(std::max<std::size_t>(2, rows / 2)));
  const Scale scale{std::floor(reach->low / step + 1e-9) * step,
                    std::ceil(reach->high / step - 1e-9) * step};
  Canvas canvas(plot_width(page), rows, scale, page.utf8);
  put_curve(curve, look.style, canvas);
  const auto figures = figures_of(curve, scale, step, canvas, rows);
  for (std::size_t y = 0; y < rows; ++y) {
    const std::string line = canvas.line(y, look, page.utf8 ? kUtf8 : kAscii);
    text += (line.empty() && figures[y].empty() ? "" : right(figures[y], kGutter - 1) + " ") + line;
    text.resize(text.find_last_not_of(' ') + 1);
    text += "\n";
  }
  return text;
}

std::string axis_text(const Chart& chart, const ChartPage& page, const Look& look) {
  const Glyphs& glyphs = page.utf8 ? kUtf8 : kAscii;
  std::vector<Stretch> alarms;
  for (const ChartAlarm& each : chart.alarms) alarms.push_back(each.stretch);
  return strip_text(chart, page, "floods", chart.floods, glyphs.flood, {}) +
         strip_text(chart, page, "alarms", alarms, glyphs.alarm,
                    toned(look, Tone::bad, glyphs.alarm)) +
         times_text(chart, page, glyphs);
}

std::string render_chart(const Chart& chart, const ChartPage& page, const Look& look) {
  const Glyphs& glyphs = page.utf8 ? kUtf8 : kAscii;
  std::string text = head_of(chart, page.width) + "\n";
  for (const Curve& curve : chart.curves)
    text += panel_text(curve, page, rows_of(chart, page), look);
  text += axis_text(chart, page, look);
  text += wrapped(legend_of(chart, page, glyphs), page.width, 2) + "\n";
  return text + wrapped(marked_text(chart), page.width, 2) + "\n";
}

}  // namespace neap::client
