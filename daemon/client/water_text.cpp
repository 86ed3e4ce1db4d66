#include <cmath>

#include "daemon/client/records_json.h"
#include "daemon/client/water.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

using Side = Table::Side;
using words::decimals;

constexpr std::size_t kMostDays = 10;

std::string millilitres(double l_per_h) { return decimals(l_per_h * 1000, 0) + " mL/h"; }
std::string per_cent(double part) { return decimals(part * 100, 0) + " %"; }
std::string date_text(const journal::Stamp& at) { return minute_text(at).substr(0, 10); }

std::string what_became_of(const LeakTold& leak) {
  const bool idle = leak.sign == solution::LeakSign::idle_slope;
  if (leak.stands)
    return idle ? "; look at reservoir, pump pipe and unions with dry paper"
                : "; look at tray, standpipe and hose during a flood";
  if (leak.lost_sight)
    return "; after " + minute_text(leak.last) +
           " not to be told from plants that grow: it counts as usual";
  return "; ended " + minute_text(leak.last);
}

std::string leak_text(const LeakTold& leak) {
  const bool idle = leak.sign == solution::LeakSign::idle_slope;
  return "flagged " + minute_text(leak.flagged) + ": " + millilitres(leak.l_per_h) +
         (idle ? " go while nothing floods, since " : " go beyond what the air asked, since ") +
         minute_text(leak.since) + what_became_of(leak);
}

struct Clog {
  std::string_view title;
  std::string_view remedy;
};
constexpr Clog kFill{"fill", "clean the strainer, look for a kink or a tired pump"};
constexpr Clog kDrain{"drain", "look for roots and medium in the drain and its screen"};

std::string seconds_text(double s) {
  return words::duration(Millis{static_cast<std::int64_t>(std::lround(s)) * 1000});
}

std::string flagged_text(const TrendTold& told, const Clog& clog) {
  std::string text = per_cent(told.trend.change) + " slower than commissioned, flagged " +
                     date_text(*told.flagged) + "; " + std::string(clog.remedy);
  if (told.reaches)
    text +=
        "; at this pace " +
        per_cent(clog.title == kFill.title ? solution::kSlowFill - 1 : solution::kSlowDrain - 1) +
        " slower on " + date_text(*told.reaches);
  return text;
}

void trend_row(const std::optional<TrendTold>& told, const Clog& clog, Table& table) {
  const std::string title(clog.title);
  if (!told) {
    table.add({title, Cell{"not known before " + std::to_string(solution::kCommissioned + 4) +
                               " complete floods of one depth",
                           Tone::quiet}});
    return;
  }
  const solution::Trend& trend = told->trend;
  const std::string times =
      seconds_text(trend.now_s) + ", commissioned " + seconds_text(trend.commissioned_s);
  if (told->flagged)
    table.add({title, Cell{times + "; " + flagged_text(*told, clog), Tone::warning}});
  else
    table.add({title, Cell{times + "; " + per_cent(trend.smallest_change) + " would be told",
                           Tone::good}});
}

void leak_rows(const WaterView& view, Table& table) {
  bool stands = false;
  for (const LeakTold& leak : view.leaks) {
    table.add({"leak", Cell{leak_text(leak), leak.stands ? Tone::bad : Tone::plain}});
    stands = stands || leak.stands;
  }
  if (!stands) table.add({"leak", Cell{"none is seen now", Tone::good}});
  const solution::Detectability& idle = view.idle;
  if (!idle.within_two_days_l_per_h) {
    table.add({"would show", Cell{"nothing yet: " + std::to_string(idle.windows) +
                                      " quiet windows of two hours and more",
                                  Tone::quiet}});
    return;
  }
  std::string text = millilitres(*idle.within_two_days_l_per_h) + " within two days";
  if (idle.within_a_day_l_per_h)
    text += ", " + millilitres(*idle.within_a_day_l_per_h) + " within one";
  table.add({"would show", text + " (" + decimals(idle.windows_per_day, 1) +
                               " quiet windows a day, the longest " +
                               decimals(idle.longest_window_h, 1) + " h)"});
}

void reservoir_rows(const WaterView& view, const Look& look, Table& table) {
  const auto litres = [&](double v) { return words::volume(v, look.style); };
  table.add({"taken", view.per_day_l
                          ? litres(*view.per_day_l) + " a day, by plants, air and leaks"
                          : std::string("not known: no two floods with a level before each")});
  if (!view.level_l) return;
  std::string text =
      litres(*view.level_l) + "; a flood and the minimum need " + litres(*view.needed_l);
  if (view.refill && *view.days_left > 0)
    text += ": refill by " + minute_text(*view.refill);
  else if (view.days_left)
    text += ": refill now";
  table.add({"reservoir",
             Cell{text, view.days_left && *view.days_left < 1 ? Tone::warning : Tone::plain}});
}

void solution_rows(const WaterView& view, const Look& look, Table& table) {
  if (view.ec) {
    std::string text = decimals(*view.ec, 2) + " mS/cm";
    if (view.ec_per_day)
      text += ", " + std::string(*view.ec_per_day < 0 ? "falls " : "rises ") +
              decimals(std::abs(*view.ec_per_day), 3) + " a day over the week";
    if (view.taken && view.taken->concentration)
      text += "; what was taken in the last " + decimals(view.taken_h, 0) + " h had " +
              decimals(*view.taken->concentration, 1) + " mS/cm: top up with that";
    table.add({"EC", text});
  }
  if (view.water_c && view.oxygen_mg_l)
    table.add({"oxygen", "water of " + words::temperature(*view.water_c, look.style) + " holds " +
                             decimals(*view.oxygen_mg_l, 1) + " mg/L at most; warmer holds less"});
}

std::string days_text(const WaterView& view, const Look& look, std::size_t width) {
  Table table({Side::left, Side::right, Side::right});
  table.head({"day", "lost", "poured"});
  const std::size_t skip = view.days.size() > kMostDays ? view.days.size() - kMostDays : 0;
  for (std::size_t i = skip; i < view.days.size(); ++i) {
    const auto& [at, day] = view.days[i];
    table.add({date_text(at), day.litres ? words::volume(*day.litres, look.style) : "-",
               day.poured_l > 0 ? words::volume(day.poured_l, look.style) : std::string()});
  }
  return table.empty() ? std::string() : "\n" + table.text(look, width, 2);
}

}  // namespace

std::string render_water(const WaterView& view, const Look& look, std::size_t width) {
  const std::string head = words::printable(view.name) + ", water until " + minute_text(view.to);
  std::string out = toned(look, Tone::strong, wrapped(head, width, 2)) + "\n";
  Table table({Side::left, Side::left});
  if (view.level_known) {
    reservoir_rows(view, look, table);
    leak_rows(view, table);
  } else if (view.level_fitted) {
    table.add({"reservoir",
               "no level is in the journal yet: readings reach it within a minute of a start; if "
               "`neap status` shows none either, look at the sensor of reservoir.level"});
  } else {
    table.add({"reservoir", "no level is measured: fit a sensor to reservoir.level to see losses"});
  }
  trend_row(view.fill, kFill, table);
  trend_row(view.drain, kDrain, table);
  solution_rows(view, look, table);
  return out + table.text(look, width, 2) + days_text(view, look, width);
}

std::vector<WaterFinding> water_findings(const WaterView& view, std::int64_t from,
                                         std::int64_t to) {
  std::vector<WaterFinding> found;
  for (const LeakTold& leak : view.leaks)
    if (leak.last.tick >= from && leak.flagged.tick <= to)
      found.push_back({"leak", leak_text(leak)});
  for (const auto& [told, clog] : {std::pair{&view.fill, kFill}, std::pair{&view.drain, kDrain}})
    if (*told && (*told)->flagged && (*told)->flagged->tick <= to)
      found.push_back({std::string(clog.title), flagged_text(**told, clog)});
  return found;
}

}  // namespace neap::client
