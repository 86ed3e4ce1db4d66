#include <algorithm>
#include <map>

#include "daemon/client/records_json.h"
#include "daemon/client/report.h"
#include "daemon/client/tally.h"
#include "daemon/client/zone.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

constexpr std::size_t kMostFloods = 12;  // more are told by the table of days
constexpr std::size_t kMostAlarms = 12;  // more are told by their number
constexpr std::size_t kMostDays = 14;    // more are told a week a row

using Side = Table::Side;

std::string litres(double v, const Look& look) { return words::volume(v, look.style); }
std::string whole(long long v) { return std::to_string(v); }

std::string hours_text(Millis d) { return words::decimals(as_seconds(d) / 3600, 1); }

std::string count_text(std::size_t count, const char* one, const char* many) {
  return std::to_string(count) + " " + (count == 1 ? one : many);
}

Tone share_tone(Millis part, Millis whole_span) {
  constexpr double kWell = 0.85;
  if (whole_span <= Millis{0}) return Tone::warning;
  return static_cast<double>(part.count()) >= kWell * static_cast<double>(whole_span.count())
             ? Tone::good
             : Tone::warning;
}

std::string span_text(const Report& report) {
  const Millis length{report.to.tick - report.from.tick};
  return words::printable(report.name) + ", report of " + words::duration(length) + ": " +
         minute_text(report.from) + " to " + minute_text(report.to);
}

void water_rows(const Report& report, const Look& look, Table& table) {
  const DayTally& total = report.total;
  const bool whole_number = total.floods_complete == total.floods_planned;
  table.add(
      {"floods", Cell{whole(total.floods_planned) + " planned, " + whole(total.floods_started) +
                          " started, " + whole(total.floods_complete) + " complete; pump ran " +
                          words::duration(total.pump_on),
                      whole_number ? Tone::good : Tone::warning}});
  table.add(
      {"water", litres(total.litres_out, look) + " out, " + litres(total.litres_back, look) +
                    " back; " +
                    words::volume_difference(total.litres_out, total.litres_back, look.style) +
                    " stayed in the medium or left it as vapour"});
  if (report.level_first_l && report.level_last_l)
    table.add({"reservoir", litres(*report.level_first_l, look) + " at the start, " +
                                litres(*report.level_last_l, look) + " at the end"});
  for (const WaterFinding& one : report.water)
    table.add({one.title, Cell{one.text, Tone::warning}});
}

void air_rows(const Report& report, Table& table) {
  const DayTally& total = report.total;
  const Millis known = total.day_known + total.night_known;
  const Millis inside = total.day_in_band + total.night_in_band;
  if (known <= Millis{0})
    table.add(
        {"VPD", Cell{"not known: no readings yet (they are written each minute)", Tone::warning}});
  else
    table.add({"VPD", Cell{"in band " + share_text(inside, known) + " of the time: " +
                               share_text(total.day_in_band, total.day_known) + " by day, " +
                               share_text(total.night_in_band, total.night_known) + " by night",
                           share_tone(inside, known)}});
  if (total.any_vpd)
    table.add({"", "from " + words::decimals(total.vpd_lowest, 2) + " to " +
                       words::decimals(total.vpd_highest, 2) + " kPa; out of band by " +
                       words::decimals(total.kpa_h_out, 2) + " kPa h, " +
                       words::duration(total.below) + " below, " + words::duration(total.above) +
                       " above"});
  table.add({"humidity", "over 85 % for " + words::duration(total.humid)});
  table.add({"fan", count_text(static_cast<std::size_t>(total.fan_moves), "move", "moves") + ", " +
                        words::decimals(total.fan_hours, 1) + " h at full level in all"});
  table.add({"dehumidifier",
             count_text(static_cast<std::size_t>(total.dehumidifier_starts), "start", "starts") +
                 ", ran " + words::duration(total.dehumidifier_on)});
  if (total.humidifier_on > Millis{0})
    table.add({"humidifier", "ran " + words::duration(total.humidifier_on)});
}

void record_rows(const Report& report, Table& table) {
  const std::int64_t all = report.readings + report.missing;
  table.add({"readings", whole(report.readings) + " of " + whole(all) + " had a value, " +
                             whole(report.missing) +
                             (report.missing == 1 ? " is missing" : " are missing")});
  table.add({"alarms",
             report.alarms.empty()
                 ? Cell{"none", Tone::good}
                 : Cell{count_text(report.alarms.size(), "raising", "raisings"), Tone::warning}});
  const auto set = static_cast<std::size_t>(
      std::count_if(report.latches.begin(), report.latches.end(),
                    [](const auto& row) { return row.event.kind == EventKind::latch_set; }));
  table.add({"latches",
             set == 0
                 ? Cell{"none set", Tone::good}
                 : Cell{whole(static_cast<long long>(set)) + " set, " +
                            whole(static_cast<long long>(report.latches.size() - set)) + " reset",
                        Tone::bad}});
  for (const std::string& line : report.due)
    table.add({"due", Cell{words::printable(line), Tone::warning}});
  if (!report.trouble.empty())
    table.add({"incomplete", Cell{words::printable(report.trouble), Tone::bad}});
}

std::string render_days(const std::vector<DayTally>& days, const Look& look) {
  if (days.size() < 2) return {};
  const std::size_t step = days.size() > kMostDays ? 7 : 1;
  Table table({Side::left, Side::right, Side::right, Side::right, Side::right, Side::right,
               Side::right, Side::right, Side::right});
  table.head({step == 1 ? "lights-on of" : "week from", "floods", "day", "night", "kPa h",
              ">85 % h", "out", "back", "dryer"});
  for (std::size_t i = 0; i < days.size(); i += step) {
    DayTally sum = days[i];
    for (std::size_t j = i + 1; j < std::min(i + step, days.size()); ++j) add(sum, days[j]);
    table.add({words::civil_date(sum.date),
               whole(sum.floods_complete) + "/" + whole(sum.floods_planned),
               share_text(sum.day_in_band, sum.day_known),
               share_text(sum.night_in_band, sum.night_known), words::decimals(sum.kpa_h_out, 2),
               hours_text(sum.humid), litres(sum.litres_out, look), litres(sum.litres_back, look),
               whole(sum.dehumidifier_starts) + " x, " + hours_text(sum.dehumidifier_on) + " h"});
  }
  return "\n" + table.text(look, kPageWidth, 2);
}

std::string dip_text(const CycleRow& row) {
  if (!row.dip_known) return "-";
  const std::string dip = words::decimals(row.vpd_before_kpa - row.vpd_lowest_kpa, 2) + " kPa";
  if (!row.recovered) return dip;
  return dip + ", " + words::duration(row.recovery);
}

std::string render_floods(const Report& report, const Look& look) {
  if (report.cycles.empty() || report.cycles.size() > kMostFloods) return {};
  Table table({Side::left, Side::right, Side::right, Side::right, Side::right, Side::right,
               Side::left, Side::left});
  table.head({"flood at", "fill", "soak", "drain", "out", "back", "outcome", "dip, recovery"});
  for (const journal::CycleEntry& cycle : report.cycles) {
    const CycleRow& row = cycle.row;
    const bool good = row.outcome == FloodOutcome::complete;
    table.add({minute_text(cycle.started).substr(5),
               words::decimals(as_seconds(row.fill), 0) + " s",
               words::decimals(as_seconds(row.soak) / 60, 1) + " min",
               words::decimals(as_seconds(row.drain) / 60, 1) + " min",
               row.litres_known ? litres(row.litres_out, look) : "-",
               row.litres_known ? litres(row.litres_back, look) : "-",
               Cell{std::string(words::name(row.outcome)), good ? Tone::good : Tone::bad},
               dip_text(row)});
  }
  return "\n" + table.text(look, kPageWidth, 2);
}

std::string render_alarm_counts(const Report& report, const Look& look) {
  std::map<Alarm, int> counts;
  for (const journal::AlarmSpan& span : report.alarms) ++counts[span.alarm];
  Table table({Side::left, Side::right, Side::left});
  table.head({"alarm", "times", "what to do"});
  for (const auto& [alarm, count] : counts)
    table.add({info(alarm).name, whole(count), Cell{info(alarm).remedy}});
  return "\n" + table.text(look, kPageWidth, 2);
}

std::string render_alarms(const Report& report, const Look& look) {
  if (report.alarms.size() > kMostAlarms) return render_alarm_counts(report, look);
  Table table({Side::left, Side::left, Side::right, Side::left});
  table.head({"alarm at", "alarm", "lasted", "why"});
  for (const journal::AlarmSpan& span : report.alarms)
    table.add({minute_text(span.raised).substr(5), info(span.alarm).name,
               span.cleared ? words::duration(Millis{span.cleared->tick - span.raised.tick})
                            : std::string("to the end"),
               words::sentence(span.because, look.style)});
  return table.empty() ? std::string() : "\n" + table.text(look, kPageWidth, 2);
}

}  // namespace

std::string share_text(Millis part, Millis whole_span) {
  if (whole_span <= Millis{0}) return "not known";
  return words::decimals(
             100.0 * static_cast<double>(part.count()) / static_cast<double>(whole_span.count()),
             1) +
         " %";
}

std::string render_report(const Report& report, const Look& look) {
  Table table({Side::left, Side::left});
  water_rows(report, look, table);
  air_rows(report, table);
  record_rows(report, table);
  return toned(look, Tone::strong, wrapped(span_text(report), kPageWidth, 2)) + "\n" +
         table.text(look, kPageWidth, 2) + render_days(report.days, look) +
         render_floods(report, look) + render_alarms(report, look);
}

std::string render_comparison(const Report& ours, const Report& fixed_fan, const Look& look) {
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
  row("over 85 %, h", [](const DayTally& t) { return hours_text(t.humid); });
  row("fan, h at full level", [](const DayTally& t) { return words::decimals(t.fan_hours, 1); });
  row("dehumidifier, h", [](const DayTally& t) { return hours_text(t.dehumidifier_on); });
  row("floods complete", [](const DayTally& t) { return whole(t.floods_complete); });
  return "\n" + toned(look, Tone::strong, "Beside the same tent with the fan at one level") + "\n" +
         table.text(look, kPageWidth, 2);
}

}  // namespace neap::client
