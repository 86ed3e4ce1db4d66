// The page `now` of `neap watch`: air against its band, water, what comes, outputs.
#include <algorithm>
#include <cmath>
#include <utility>

#include "daemon/client/peek.h"
#include "daemon/client/render.h"
#include "daemon/client/watch.h"
#include "daemon/core/flood.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

using nlohmann::json;

std::string line(const Look& look, Tone tone, const std::string& text) {
  return text.empty() ? text : toned(look, tone, wrapped(text, look.width, 2)) + "\n";
}

const json* reading(const json& status, Point point) {
  for (const json& each : list_at(status, "/readings"))
    if (text_at(each, "/point") == info(point).name) return &each;
  return nullptr;
}

// "Canopy 24.1 C, 61 % (uncertain)", in parts; empty when the tent measures nothing of it.
std::vector<std::string> figures_of(const json& status, const std::string& title,
                                    const std::vector<Point>& points) {
  std::vector<std::string> parts;
  bool uncertain = false;
  const bool stopped = at(status, "/stopped") != nullptr;  // then all of them are old
  for (const Point point : points) {
    const json* found = reading(status, point);
    if (found == nullptr) continue;
    const bool known = number_at(*found, "/value").has_value();
    const std::string fault = text_at(*found, "/fault");
    if (!parts.empty()) parts.back() += ",";
    parts.push_back((parts.empty() ? title + " " : std::string()) + (known
                                                                         ? text_at(*found, "/text")
                                                                     : fault.empty() ? "-"
                                                                                     : fault));
    uncertain |= known && !stopped && text_at(*found, "/quality") != "good";
  }
  if (uncertain) parts.back() += " (uncertain)";
  return parts;
}

std::string parts_line(const Look& look, const std::vector<std::string>& parts) {
  return parts.empty() ? std::string() : joined(parts, look.width) + "\n";
}

// The band in the middle half of `width` characters, and where the VPD stands: a mark at an end may
// lie further out.
std::string gauge(const json& status, Scale band, std::size_t width, const Look& look, bool utf8) {
  const bool leaf = text_at(status, "/targets/band_of") == "leaf";
  const json* found = reading(status, leaf ? Point::leaf_vpd : Point::canopy_vpd);
  const auto vpd = found == nullptr ? std::nullopt : number_at(*found, "/value");
  const double last = static_cast<double>(width - 1);
  const double reach = band.high - band.low;
  const auto place = [&](double value) {
    const double part = (value - (band.low - reach / 2)) / (2 * reach);
    return static_cast<std::size_t>(std::lround(std::clamp(part, 0.0, 1.0) * last));
  };
  const std::size_t from = place(band.low);
  const std::size_t to = place(band.high);
  std::string text = "[";
  for (std::size_t x = 0; x < width; ++x) {
    const bool banded = x >= from && x <= to;
    if (vpd && x == place(*vpd))
      text += toned(look, margin_of(status).tone, utf8 ? "\u25c6" : "*");
    else
      text += toned(look, banded ? Tone::good : Tone::quiet,
                    banded ? (utf8 ? "\u2591" : "=") : (utf8 ? "\u2500" : "-"));
  }
  return text + "]";
}

// The margin and the gauge, in one line where they fit.
std::string air_text(const json& status, const Look& look, bool utf8) {
  constexpr std::size_t kWidest = 33;
  constexpr std::size_t kNarrowest = 9;
  const Margin margin = margin_of(status);
  const auto low = number_at(status, "/targets/low_kpa");
  const auto high = number_at(status, "/targets/high_kpa");
  const std::string told = line(look, margin.tone, margin.text);
  if (!low || !high || !(*low < *high)) return told;
  const std::string before = words::decimals(*low, 2) + " ";
  const std::string after =
      " " + words::decimals(*high, 2) + (true_at(status, "/day") ? " by day" : " by night");
  const std::size_t beside = columns(margin.text) + 2;
  const std::size_t taken = columns(before) + columns(after) + 2;  // and the gauge's own ends
  const bool fits = beside + taken + kNarrowest <= look.width;
  const std::size_t used = (fits ? beside : 0) + taken;
  const std::size_t room = std::clamp(look.width - std::min(look.width, used), kNarrowest, kWidest);
  return (fits ? told.substr(0, told.size() - 1) + "  " : told) + before +
         gauge(status, {*low, *high}, room, look, utf8) + after + "\n";
}

// "Flood: fill [soak] drain rest, 2 min": the phase in hand stands in brackets.
std::string flood_line(const json& status, const Look& look) {
  const std::string phase = text_at(status, "/flood/phase");
  if (phase.empty()) return {};
  if (phase == words::name(FloodPhase::idle)) return "No flood under way\n";
  std::string steps;
  for (const FloodPhase step :
       {FloodPhase::fill, FloodPhase::soak, FloodPhase::drain, FloodPhase::rest}) {
    const std::string name(words::name(step));
    steps += " " + (name == phase ? "[" + name + "]" : name);
  }
  const auto since = length_at(status, "/flood/since_s");
  return line(look, Tone::strong,
              "Flood:" + steps + (since ? ", " + words::duration(*since) : std::string()));
}

CivilTime civil_now(const Watched& seen) {
  return civil_of({seen.unix_ms, seen.utc_offset_s, TimeQuality::synced});
}

// "Next: lights on in 12 min; then 06:45 flood 1, 11:10 flood 2".
std::string next_line(const Watched& seen, const Look& look) {
  const std::size_t most = look.width < kPageWidth ? 2 : 3;
  const CivilTime now = civil_now(seen);
  const std::string told = text_at(seen.status, "/next_event/text");
  std::vector<std::string> then;
  bool first = true;
  for (const WatchRecord::Coming& each : seen.record.coming) {
    if (each.at <= now) continue;
    if (std::exchange(first, false) && each.text == told) continue;
    if (then.size() == most) break;
    if (!then.empty()) then.back() += ",";
    then.push_back(words::clock_time(each.at.second_of_day) + " " + each.text);
  }
  std::vector<std::string> parts;
  if (const std::string next = next_event_text(seen.status); !next.empty())
    parts.push_back("Next: " + next + (then.empty() ? "" : "; then"));
  else if (!then.empty())
    parts.push_back("Next:");
  parts.insert(parts.end(), then.begin(), then.end());
  const std::string withheld = text_at(seen.status, "/flood/withheld/text");
  return parts_line(look, parts) +
         (withheld.empty() ? withheld : line(look, Tone::warning, "Withheld: " + withheld));
}

std::string alarm_line(const json& status, const Look& look) {
  std::string text;
  for (const json& alarm : list_at(status, "/alarms"))
    text += (text.empty() ? "" : "; ") + text_at(alarm, "/title") + " (" +
            text_at(alarm, "/priority") +
            (text_at(alarm, "/state") == "acknowledged" ? ", acknowledged)" : ")");
  return text.empty() ? text : line(look, Tone::bad, "Alarms: " + text);
}

// A line each: the reason is cut, and stands whole further down.
std::string outputs_text(const json& status, const Look& look) {
  constexpr std::size_t kGaps = 4;
  constexpr std::size_t kLeast = 14;
  const std::vector<OutputRow> rows = output_rows(status);
  std::size_t used = kGaps;
  for (const auto part : {&OutputRow::output, &OutputRow::level}) {
    std::size_t most = 0;
    for (const OutputRow& row : rows) most = std::max(most, columns(row.*part));
    used += most;
  }
  const std::size_t room = std::max(kLeast, look.width - std::min(look.width, used));
  Table table({Table::Side::left, Table::Side::left, Table::Side::left});
  for (const OutputRow& row : rows)
    table.add({row.output, Cell(row.level, Tone::strong), clipped(row.because, room)});
  return table.text(look, look.width);
}

}  // namespace

std::string overview_text(const Watched& seen, const Look& look, bool utf8) {
  const json& status = seen.status;
  const bool calls = verdict_of(status).tone == Tone::bad;
  const std::string to_do = to_do_text(status, look);
  std::string text = alarm_line(status, look) + standing_text(status, look) + (calls ? to_do : "");
  text += air_text(status, look, utf8);
  std::vector<std::string> air =
      figures_of(status, "Canopy", {Point::canopy_temperature, Point::canopy_humidity});
  const auto room = figures_of(status, "room", {Point::room_temperature, Point::room_humidity});
  if (!air.empty() && !room.empty()) air.back() += ";";
  air.insert(air.end(), room.begin(), room.end());
  text += parts_line(look, air);
  text += parts_line(look, figures_of(status, "Reservoir",
                                      {Point::reservoir_level, Point::solution_temperature,
                                       Point::solution_ph, Point::solution_ec}));
  text += flood_line(status, look);
  if (const json* roots = at(status, "/flood/roots");
      roots != nullptr && true_at(*roots, "/in_want"))
    text += line(look, Tone::bad, roots_text(*roots));
  text += next_line(seen, look);
  return text + stage_text(status, look) + outputs_text(status, look) + (calls ? "" : to_do);
}

}  // namespace neap::client
