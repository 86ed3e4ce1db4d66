#include "daemon/client/records_json.h"
#include "daemon/client/report_parts.h"
#include "daemon/words/figures.h"

namespace neap::client {

std::string share_text(Millis part, Millis whole_span) {
  if (whole_span <= Millis{0}) return "not known";
  return words::decimals(
             100.0 * static_cast<double>(part.count()) / static_cast<double>(whole_span.count()),
             1) +
         " %";
}

std::string span_text(const Report& report) {
  const Millis length{report.to.tick - report.from.tick};
  return words::printable(report.name) + ", report of " + words::duration(length) + ": " +
         minute_text(report.from) + " to " + minute_text(report.to);
}

std::string render_report(const Report& report, const Look& look) {
  std::string text = toned(look, Tone::strong, wrapped(span_text(report), kPageWidth, 2)) + "\n";
  for (const ReportPart& part : parts_of(report, look.style)) {
    if (part.title != "Summary") text += "\n";
    text += part.table.text(look, kPageWidth, 2);
  }
  return text;
}

std::string render_comparison(const Report& ours, const Report& fixed_fan, const Look& look) {
  using Side = Table::Side;
  Table table({Side::left, Side::right, Side::right});
  table.head({"", "neap", "fixed fan"});
  const auto row = [&](const char* title, auto&& figure) {
    table.add({title, figure(ours.total), figure(fixed_fan.total)});
  };
  row("VPD in band", [](const DayTally& t) {
    return share_text(t.day_in_band + t.night_in_band, t.day_known + t.night_known);
  });
  row("  by day", [](const DayTally& t) { return share_text(t.day_in_band, t.day_known); });
  row("  by night", [](const DayTally& t) { return share_text(t.night_in_band, t.night_known); });
  row("out of band, kPa h", [](const DayTally& t) { return words::decimals(t.kpa_h_out, 2); });
  row("over 85 %, h",
      [](const DayTally& t) { return words::decimals(as_seconds(t.humid) / 3600, 1); });
  row("fan, h at full level", [](const DayTally& t) { return words::decimals(t.fan_hours, 1); });
  row("dehumidifier, h",
      [](const DayTally& t) { return words::decimals(as_seconds(t.dehumidifier_on) / 3600, 1); });
  row("floods complete", [](const DayTally& t) { return std::to_string(t.floods_complete); });
  return "\n" + toned(look, Tone::strong, "Beside the same tent with the fan at one level") + "\n" +
         table.text(look, kPageWidth, 2);
}

}  // namespace neap::client
