#include "daemon/client/report_html.h"

#include "daemon/client/report_parts.h"
#include "daemon/client/svg.h"

namespace neap::client {
namespace {

// Class names are prefixed: the curves bring a style sheet of their own, which is not told apart.
constexpr std::string_view kStyle = R"(
body{font:16px/1.45 system-ui,sans-serif;color:#222;background:#fff}
body{max-width:62rem;margin:0 auto;padding:1rem}
h1{font-size:1.4rem;margin:0}
h2{font-size:1.1rem;margin:1.8rem 0 .4rem}
p{margin:.2rem 0 1rem}
.r-scroll{overflow-x:auto}
table{border-collapse:collapse;font-variant-numeric:tabular-nums}
th,td{text-align:left;vertical-align:top;padding:.2rem .9rem .2rem 0}
th,td{border-bottom:1px solid #e3e3e3}
th{font-weight:600;color:#555;white-space:nowrap}
.r-right{text-align:right;white-space:nowrap}
.r-good{color:#1b6e2e}
.r-warning{color:#8a5a00}
.r-bad{color:#b3261e;font-weight:600}
svg{width:100%;height:auto}
@media print{body{padding:0}h2{break-after:avoid}tr{break-inside:avoid}}
)";

std::string_view class_of(Tone tone) {
  switch (tone) {
    case Tone::good:
      return "r-good";
    case Tone::warning:
      return "r-warning";
    case Tone::bad:
      return "r-bad";
    case Tone::plain:
    case Tone::quiet:
    case Tone::strong:
      return {};
  }
  return {};
}

std::string cell_html(const Cell& cell, Table::Side side, std::string_view element) {
  std::string classes(side == Table::Side::right ? "r-right" : "");
  if (const std::string_view tone = class_of(cell.tone); !tone.empty())
    classes += (classes.empty() ? "" : " ") + std::string(tone);
  const std::string name(element);
  return "<" + name + (classes.empty() ? "" : " class=\"" + classes + "\"") + ">" +
         escaped(cell.text) + "</" + name + ">";
}

std::string row_html(const std::vector<Cell>& row, const Table& table, bool heads) {
  std::string out = "<tr>";
  for (std::size_t i = 0; i < row.size(); ++i) {
    // The first cell of a table without a heading says what the row is about.
    const bool head = heads || (i == 0 && table.heading().empty());
    out += cell_html(row[i], table.sides()[i], head ? "th" : "td");
  }
  return out + "</tr>\n";
}

std::string part_html(const ReportPart& part) {
  std::string out = "<h2>" + escaped(part.title) + "</h2>\n<div class=\"r-scroll\"><table>\n";
  if (!part.table.heading().empty()) out += row_html(part.table.heading(), part.table, true);
  for (const auto& row : part.table.rows()) out += row_html(row, part.table, false);
  return out + "</table></div>\n";
}

// An SVG document as an element of a page: without the declaration of XML in front.
std::string element_of(const std::string& svg) { return svg.substr(svg.find("<svg")); }

}  // namespace

std::string html_page(const Report& report, const Chart& chart, const words::Style& style) {
  const std::string title = escaped(span_text(report));
  std::string out =
      "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
      "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
      "'unsafe-inline'\">\n<title>" +
      title + "</title>\n<style>" + std::string(kStyle) + "</style>\n</head>\n<body>\n<h1>" +
      escaped(words::printable(report.name)) + "</h1>\n<p>" + title + "</p>\n";
  const std::vector<ReportPart> parts = parts_of(report, style);
  for (const ReportPart& part : parts) {
    out += part_html(part);
    if (&part == &parts.front()) out += "<h2>Curves</h2>\n" + element_of(draw(chart, style));
  }
  return out + "</body>\n</html>\n";
}

}  // namespace neap::client
