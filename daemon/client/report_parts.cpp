#include "daemon/client/report_parts.h"

#include <algorithm>
#include <array>
#include <map>

#include "daemon/client/records_json.h"
#include "daemon/client/tally.h"
#include "daemon/client/zone.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

constexpr std::size_t kMostFloods = 12;    // more are told by the table of days
constexpr std::size_t kMostAlarms = 12;    // more are told by their number
constexpr std::size_t kMostMeasured = 12;  // more are told by their range
constexpr std::size_t kMostDays = 14;      // more are told a week a row

using words::Style;
using Side = Table::Side;

std::string litres(double v, const Style& style) { return words::volume(v, style); }
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

// Where the table of floods stands it says more.
std::string fills_text(const Report& report) {
  std::vector<const CycleRow*> complete;
  for (const journal::CycleEntry& cycle : report.cycles)
    if (cycle.row.outcome == FloodOutcome::complete) complete.push_back(&cycle.row);
  if (complete.size() < 3 || report.cycles.size() <= kMostFloods) return {};
  const auto mean = [&](std::size_t from, std::size_t to, Millis CycleRow::*what) {
    double sum = 0;
    for (std::size_t i = from; i < to; ++i) sum += as_seconds(complete[i]->*what);
    return sum / static_cast<double>(to - from);
  };
  const std::size_t all = complete.size();
  const std::size_t third = all / 3;
  const auto text = [&](Millis CycleRow::*what) {
    return words::decimals(mean(0, all, what), 0) + " s in the mean, " +
           words::decimals(mean(0, third, what), 0) + " in the first third, " +
           words::decimals(mean(all - third, all, what), 0) + " in the last";
  };
  return "fill " + text(&CycleRow::fill) + "; drain " + text(&CycleRow::drain);
}

void water_rows(const Report& report, const Style& style, Table& table) {
  const DayTally& total = report.total;
  const bool whole_number = total.floods_complete == total.floods_planned;
  table.add(
      {"floods", Cell{whole(total.floods_planned) + " planned, " + whole(total.floods_started) +
                          " started, " + whole(total.floods_complete) + " complete; pump ran " +
                          words::duration(total.pump_on),
                      whole_number ? Tone::good : Tone::warning}});
  table.add({"water", litres(total.litres_out, style) + " out, " +
                          litres(total.litres_back, style) + " back; " +
                          words::volume_difference(total.litres_out, total.litres_back, style) +
                          " stayed in the medium or left it as vapour"});
  if (const std::string text = fills_text(report); !text.empty()) table.add({"fill, drain", text});
  if (report.level_first_l && report.level_last_l)
    table.add({"reservoir", litres(*report.level_first_l, style) + " at the start, " +
                                litres(*report.level_last_l, style) + " at the end"});
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

void solution_rows(const Report& report, const Style& style, Table& table) {
  constexpr std::array kOfSolution{Point::solution_ph, Point::solution_ec,
                                   Point::solution_temperature};
  bool first = true;
  for (const Point point : kOfSolution) {
    const auto row = std::ranges::find(report.points, point, &journal::PointSummary::point);
    if (row == report.points.end() || !row->mean) continue;
    const auto shown = [&](double value) { return words::value(point, value, style); };
    table.add({first ? "solution" : "", shown(*row->lowest) + " to " + shown(*row->highest) +
                                            ", mean " + shown(*row->mean)});
    first = false;
  }
  if (report.energy.empty()) return;
  double sum = 0;
  std::string parts;
  for (const EnergyOf& one : report.energy) {
    sum += one.kwh;
    parts += (parts.empty() ? "" : ", ") + std::string(info(one.output).title) + " " +
             words::decimals(one.kwh, 2);
  }
  table.add({"energy", words::decimals(sum, 2) + " kWh by rated powers: " + parts});
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

ReportPart days_part(const std::vector<DayTally>& days, const Style& style) {
  const std::size_t step = days.size() > kMostDays ? 7 : 1;
  Table table({Side::left, Side::right, Side::right, Side::right, Side::right, Side::right,
               Side::right, Side::right, Side::right});
  if (days.size() < 2) return {"Days", table};
  table.head({step == 1 ? "lights-on of" : "week from", "floods", "day", "night", "kPa h",
              ">85 % h", "out", "back", "dryer"});
  for (std::size_t i = 0; i < days.size(); i += step) {
    DayTally sum = days[i];
    for (std::size_t j = i + 1; j < std::min(i + step, days.size()); ++j) add(sum, days[j]);
    table.add({words::civil_date(sum.date),
               whole(sum.floods_complete) + "/" + whole(sum.floods_planned),
               share_text(sum.day_in_band, sum.day_known),
               share_text(sum.night_in_band, sum.night_known), words::decimals(sum.kpa_h_out, 2),
               hours_text(sum.humid), litres(sum.litres_out, style), litres(sum.litres_back, style),
               whole(sum.dehumidifier_starts) + " x, " + hours_text(sum.dehumidifier_on) + " h"});
  }
  return {step == 1 ? "Days" : "Weeks", table};
}

std::string dip_text(const CycleRow& row) {
  if (!row.dip_known) return "-";
  const std::string dip = words::decimals(row.vpd_before_kpa - row.vpd_lowest_kpa, 2) + " kPa";
  if (!row.recovered) return dip;
  return dip + ", " + words::duration(row.recovery);
}

ReportPart floods_part(const Report& report, const Style& style) {
  Table table({Side::left, Side::right, Side::right, Side::right, Side::right, Side::right,
               Side::left, Side::left});
  if (report.cycles.empty() || report.cycles.size() > kMostFloods) return {"Floods", table};
  table.head({"flood at", "fill", "soak", "drain", "out", "back", "outcome", "dip, recovery"});
  for (const journal::CycleEntry& cycle : report.cycles) {
    const CycleRow& row = cycle.row;
    const bool good = row.outcome == FloodOutcome::complete;
    table.add({minute_text(cycle.started).substr(5),
               words::decimals(as_seconds(row.fill), 0) + " s",
               words::decimals(as_seconds(row.soak) / 60, 1) + " min",
               words::decimals(as_seconds(row.drain) / 60, 1) + " min",
               row.litres_known ? litres(row.litres_out, style) : "-",
               row.litres_known ? litres(row.litres_back, style) : "-",
               Cell{std::string(words::name(row.outcome)), good ? Tone::good : Tone::bad},
               dip_text(row)});
  }
  return {"Floods", table};
}

ReportPart alarm_counts_part(const Report& report) {
  std::map<Alarm, int> counts;
  for (const journal::AlarmSpan& span : report.alarms) ++counts[span.alarm];
  Table table({Side::left, Side::right, Side::left});
  table.head({"alarm", "times", "what to do"});
  for (const auto& [alarm, count] : counts)
    table.add({info(alarm).name, whole(count), Cell{info(alarm).remedy}});
  return {"Alarms", table};
}

ReportPart alarms_part(const Report& report, const Style& style) {
  if (report.alarms.size() > kMostAlarms) return alarm_counts_part(report);
  Table table({Side::left, Side::left, Side::right, Side::left});
  table.head({"alarm at", "alarm", "lasted", "why"});
  for (const journal::AlarmSpan& span : report.alarms)
    table.add({minute_text(span.raised).substr(5), info(span.alarm).name,
               span.cleared ? words::duration(Millis{span.cleared->tick - span.raised.tick})
                            : std::string("to the end"),
               words::sentence(span.because, style)});
  return {"Alarms", table};
}

// At most so many words of what coincided: the first few tell most.
std::string with_text(const std::vector<std::string>& with) {
  constexpr std::size_t kMostWords = 6;
  std::string text;
  for (std::size_t i = 0; i < std::min(with.size(), kMostWords); ++i)
    text += (i == 0 ? "" : ", ") + words::printable(with[i]);
  if (with.size() > kMostWords)
    text += " and " + whole(static_cast<long long>(with.size() - kMostWords)) + " more";
  return text.empty() ? "nothing else is in the journal" : text;
}

ReportPart excursions_part(const Report& report) {
  Table table({Side::left, Side::right, Side::right, Side::left});
  table.head({"out of band at", "for", "furthest, kPa", "at the time"});
  for (const Excursion& one : report.excursions)
    table.add({minute_text(one.from).substr(5), words::duration(one.out),
               words::decimals(one.furthest_kpa, 2) + (one.below ? " under " : " over ") +
                   words::decimals(one.edge_kpa, 2),
               with_text(one.with)});
  return {"Worst times out of the band", table};
}

ReportPart settings_part(const Report& report) {
  Table table({Side::left, Side::left});
  table.head({"settings at", "what changed"});
  for (const SettingsChange& change : report.settings)
    for (const std::string& line : change.lines)
      table.add({&line == &change.lines.front() ? Cell{minute_text(change.at).substr(5)} : Cell{},
                 words::printable(line)});
  return {"Changed settings", table};
}

std::string figure_text(double value, const HandInfo* hand) {
  const std::string unit(hand != nullptr ? hand->unit : "");
  return words::decimals(value, 2) + (unit.empty() ? "" : " " + unit);
}

std::string title_of(const std::string& quantity, const HandInfo* hand) {
  return hand != nullptr ? std::string(hand->title) : words::printable(quantity);
}

ReportPart measured_ranges_part(const Report& report) {
  struct Range {
    int count = 0;
    double least = 0, sum = 0, greatest = 0, last = 0;
  };
  std::map<std::string, Range> ranges;
  for (const journal::MeasurementRow& row : report.measurements) {
    Range& range = ranges[row.quantity];
    range.least = range.count == 0 ? row.value : std::min(range.least, row.value);
    range.greatest = range.count == 0 ? row.value : std::max(range.greatest, row.value);
    range.sum += row.value;
    range.last = row.value;
    ++range.count;
  }
  Table table({Side::left, Side::right, Side::right, Side::right, Side::right, Side::right});
  table.head({"by hand", "times", "least", "mean", "greatest", "last"});
  for (const auto& [quantity, range] : ranges) {
    const HandInfo* hand = find_hand(quantity);
    table.add({title_of(quantity, hand), whole(range.count), figure_text(range.least, hand),
               figure_text(range.sum / range.count, hand), figure_text(range.greatest, hand),
               figure_text(range.last, hand)});
  }
  return {"Measured by hand", table};
}

ReportPart measurements_part(const Report& report) {
  if (report.measurements.size() > kMostMeasured) return measured_ranges_part(report);
  Table table({Side::left, Side::left, Side::right, Side::left});
  table.head({"by hand at", "what", "figure", "note"});
  for (const journal::MeasurementRow& row : report.measurements) {
    const HandInfo* hand = find_hand(row.quantity);
    table.add({minute_text(row.taken).substr(5), title_of(row.quantity, hand),
               figure_text(row.value, hand), words::printable(row.note)});
  }
  return {"Measured by hand", table};
}

}  // namespace

std::vector<ReportPart> parts_of(const Report& report, const Style& style) {
  Table table({Side::left, Side::left});
  water_rows(report, style, table);
  air_rows(report, table);
  solution_rows(report, style, table);
  record_rows(report, table);
  std::vector<ReportPart> all{{"Summary", table}};
  for (ReportPart part :
       {days_part(report.days, style), floods_part(report, style), excursions_part(report),
        alarms_part(report, style), measurements_part(report), settings_part(report)})
    if (!part.table.empty()) all.push_back(std::move(part));
  return all;
}

}  // namespace neap::client
