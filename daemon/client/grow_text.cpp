#include <algorithm>

#include "daemon/client/diary.h"
#include "daemon/client/grow.h"
#include "daemon/client/records_json.h"
#include "daemon/client/report.h"
#include "daemon/client/tally.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;
using Side = Table::Side;

constexpr const char* kUnknown = "-";

std::string day_of(const journal::Stamp& stamp) { return minute_text(stamp).substr(0, 10); }

std::string weight_text(double grams) {
  constexpr double kKilogram = 1000;
  return grams < kKilogram ? words::decimals(grams, 0) + " g"
                           : words::decimals(grams / kKilogram, 2) + " kg";
}

std::string plants_text(const Grow& grow) {
  if (!grow.plants) return {};
  const int plants = static_cast<int>(*grow.plants);
  return std::to_string(plants) + (plants == 1 ? " plant" : " plants");
}

std::string harvest_text(const Grow& grow) {
  if (grow.harvests.empty()) return kUnknown;
  const auto each = grow.harvest_g_per_plant();
  return weight_text(grow.harvest_g()) + (each ? ", " + weight_text(*each) + " a plant" : "");
}

int floods_of(const PartFigures& part) {
  int count = 0;
  for (const auto& [outcome, times] : part.floods) count += times;
  return count;
}

int complete_of(const PartFigures& part) {
  const auto found = part.floods.find(FloodOutcome::complete);
  return found == part.floods.end() ? 0 : found->second;
}

std::string floods_text(const PartFigures& part) {
  return std::to_string(complete_of(part)) + "/" + std::to_string(floods_of(part));
}

std::string in_band(const PartFigures& part) {
  const Millis known = part.tally.day_known + part.tally.night_known;
  if (known <= Millis{0}) return kUnknown;
  return share_text(part.tally.day_in_band + part.tally.night_in_band, known);
}

std::string litres(const PartFigures& part, const Look& look) {
  return part.water_days == 0 ? kUnknown : words::volume(part.water_used_l, look.style);
}

std::string range_text(const HandRange& range) {
  if (range.count == 0) return kUnknown;
  const std::string low = words::decimals(range.lowest, 1);
  const std::string high = words::decimals(range.highest, 1);
  return low == high ? low : low + ".." + high;
}

std::string mean_text(const HandRange& range) {
  return range.count == 0 ? kUnknown : words::decimals(range.mean, 2);
}

std::string drift_text(const HandRange& range) {
  if (!range.drift_per_day) return kUnknown;
  return (*range.drift_per_day < 0 ? "" : "+") + words::decimals(*range.drift_per_day, 2);
}

std::string degrees(const std::optional<double>& value, const Look& look) {
  return value ? words::temperature(*value, look.style) : kUnknown;
}

std::string air_text(const PartFigures& part, const Look& look) {
  std::string text;
  if (part.canopy_mean_c) text = degrees(part.canopy_mean_c, look);
  if (part.humidity_mean_pct)
    text += (text.empty() ? "" : ", ") + words::decimals(*part.humidity_mean_pct, 0) + " % RH";
  return text + (text.empty() ? "" : " on average");
}

std::string drifts_text(const PartFigures& part) {
  std::string text;
  if (part.ph.drift_per_day) text = "pH " + drift_text(part.ph) + " a day";
  if (part.ec.drift_per_day)
    text += (text.empty() ? "" : ", ") + ("EC " + drift_text(part.ec)) + " mS/cm a day";
  return text + (text.empty() ? "" : ", by hand, with nothing poured in between");
}

std::string failures_text(const PartFigures& part) {
  std::string text;
  for (const auto& [outcome, times] : part.floods)
    if (outcome != FloodOutcome::complete)
      text += (text.empty() ? "" : ", ") + std::to_string(times) + " " +
              std::string(words::name(outcome));
  return text;
}

std::string heading(const Grow& grow) {
  std::string text = words::printable(grow.name);
  if (!grow.crop.empty()) text += ": " + words::printable(grow.crop);
  if (grow.plants) text += ", " + plants_text(grow);
  return text + ", " + day_of(grow.from) + " to " + (grow.to ? day_of(*grow.to) : "now");
}

std::string stages_wide(const GrowFigures& figures, const Look& look) {
  Table table({Side::left, Side::right, Side::right, Side::right, Side::right, Side::right,
               Side::right, Side::right});
  table.head({"stage", "days", "in band", "floods", "water", "pH", "EC", "alarms"});
  const auto add = [&](const std::string& name, const PartFigures& part) {
    table.add({name, words::decimals(part.days, 1), in_band(part), floods_text(part),
               litres(part, look), range_text(part.ph), range_text(part.ec),
               std::to_string(part.alarms)});
  };
  for (const PartFigures& part : figures.stages) add(words::printable(part.stage), part);
  add("in all", figures.whole);
  return table.text(look, kPageWidth, 2);
}

std::string stages_narrow(const GrowFigures& figures, const Look& look) {
  Table table({Side::left, Side::left});
  const auto add = [&](const std::string& name, const PartFigures& part) {
    table.add({clipped(name, 12), words::decimals(part.days, 1) + " d; band " + in_band(part) +
                                      "; floods " + floods_text(part) + "; water " +
                                      litres(part, look) + "; pH " + range_text(part.ph) + "; EC " +
                                      range_text(part.ec) + "; alarms " +
                                      std::to_string(part.alarms)});
  };
  for (const PartFigures& part : figures.stages) add(words::printable(part.stage), part);
  add("in all", figures.whole);
  return table.text(look, kPhoneWidth);
}

// What cannot be left out of a page without a doubt about its figures.
void remarks(const GrowFigures& figures, Table& table) {
  const PartFigures& whole = figures.whole;
  if (whole.photoperiods == 0)
    table.add({"", "no photoperiod of it is over yet; air and water are counted by closed ones"});
  else if (whole.water_days < whole.photoperiods)
    table.add({"water", "known for " + std::to_string(whole.water_days) + " of " +
                            std::to_string(whole.photoperiods) + " photoperiods"});
  if (!figures.trouble.empty())
    table.add({"incomplete", Cell{words::printable(figures.trouble), Tone::bad}});
}

void entries(const std::vector<journal::DiaryRow>& rows, Table& table) {
  for (const journal::DiaryRow& row : rows) {
    std::string text = row.figure ? weight_text(*row.figure) : "";
    if (!row.mark.empty()) text += ", " + words::printable(row.mark);
    if (!row.says.empty()) text += (text.empty() ? "" : ": ") + words::printable(row.says);
    table.add({row.number == 0 ? "waits" : std::to_string(row.number), day_of(row.happened),
               std::move(text)});
  }
}

// The numbers that `neap grow withdraw` takes, of what has no line of its own.
std::string entries_text(const Grow& grow) {
  return std::to_string(*grow.start_number) + " is its start" +
         (grow.end_number ? ", " + std::to_string(*grow.end_number) + " its end" : "") +
         "; neap grow withdraw NUMBER WHY takes one back";
}

json range_json(const HandRange& range) {
  if (range.count == 0) return nullptr;
  return {{"count", range.count},
          {"lowest", range.lowest},
          {"mean", range.mean},
          {"highest", range.highest},
          {"drift_per_day", range.drift_per_day ? json(*range.drift_per_day) : json(nullptr)}};
}

json part_json(const PartFigures& part) {
  json floods = json::object();
  for (const auto& [outcome, times] : part.floods)
    floods[std::string(words::name(outcome))] = times;
  const auto maybe = [](const std::optional<double>& value) {
    return value ? json(*value) : json(nullptr);
  };
  return {{"stage", part.stage},
          {"days", part.days},
          {"photoperiods", part.photoperiods},
          {"tally", tally_json(part.tally)},
          {"floods", floods},
          {"water_used_l", part.water_days == 0 ? json(nullptr) : json(part.water_used_l)},
          {"water_days", part.water_days},
          {"ph", range_json(part.ph)},
          {"ec", range_json(part.ec)},
          {"alarms", part.alarms},
          {"canopy_mean_c", maybe(part.canopy_mean_c)},
          {"humidity_mean_pct", maybe(part.humidity_mean_pct)}};
}

}  // namespace

json grow_json(const Grow& grow) {
  json out = {{"name", grow.name},
              {"crop", grow.crop},
              {"plants", grow.plants ? json(*grow.plants) : json(nullptr)},
              {"from", stamp_json(grow.from)},
              {"to", grow.to ? stamp_json(*grow.to) : json(nullptr)},
              {"harvest_g", grow.harvest_g()},
              {"notes", json::array()},
              {"harvests", json::array()},
              {"end", grow.end_words},
              {"start_number", grow.start_number ? json(*grow.start_number) : json(nullptr)},
              {"end_number", grow.end_number ? json(*grow.end_number) : json(nullptr)}};
  for (const auto& row : grow.notes) out["notes"].push_back(diary_json(row));
  for (const auto& row : grow.harvests) out["harvests"].push_back(diary_json(row));
  return out;
}

json figures_json(const GrowFigures& figures) {
  json stages = json::array();
  for (const PartFigures& part : figures.stages) stages.push_back(part_json(part));
  return {{"grow", grow_json(figures.grow)},
          {"whole", part_json(figures.whole)},
          {"stages", stages},
          {"trouble", figures.trouble}};
}

std::string render_grows(const std::vector<Grow>& grows, const Look& look, std::size_t width) {
  if (grows.empty())
    return wrapped("No grow was told of yet; begin one with neap grow start NAME CROP plants=12",
                   width) +
           "\n";
  if (width < kPageWidth) {
    std::string text;
    for (const Grow& grow : grows)
      text += wrapped(heading(grow) + "; harvest " + harvest_text(grow), width, 2) + "\n";
    return text;
  }
  Table table({Side::left, Side::left, Side::right, Side::left, Side::left, Side::left});
  table.head({"grow", "crop", "plants", "from", "to", "harvest"});
  for (const Grow& grow : grows)
    table.add({clipped(words::printable(grow.name), 20), clipped(words::printable(grow.crop), 16),
               grow.plants ? words::decimals(*grow.plants, 0) : kUnknown, day_of(grow.from),
               grow.to ? day_of(*grow.to) : "under way", harvest_text(grow)});
  return table.text(look, width);
}

std::string render_grow(const GrowFigures& figures, const Look& look, std::size_t width) {
  const Grow& grow = figures.grow;
  const PartFigures& whole = figures.whole;
  Table table({Side::left, Side::left});
  table.add({"harvest", harvest_text(grow)});
  if (const std::string air = air_text(whole, look); !air.empty()) table.add({"air", air});
  if (const std::string drift = drifts_text(whole); !drift.empty()) table.add({"drift", drift});
  if (const std::string failed = failures_text(whole); !failed.empty())
    table.add({"floods", Cell{"not complete: " + failed, Tone::warning}});
  if (!grow.end_words.empty()) table.add({"end", words::printable(grow.end_words)});
  if (grow.start_number) table.add({"entries", entries_text(grow)});
  remarks(figures, table);
  Table told({Side::right, Side::left, Side::left});
  entries(grow.harvests, told);
  entries(grow.notes, told);
  const bool narrow = width < kPageWidth;
  return toned(look, Tone::strong, wrapped(heading(grow), width, 2)) + "\n" +
         (narrow ? stages_narrow(figures, look) : stages_wide(figures, look)) +
         table.text(look, width, narrow ? 0 : 2) +
         (told.empty() ? "" : "\n" + told.text(look, width, narrow ? 0 : 2));
}

std::string render_grows_compared(const GrowFigures& one, const GrowFigures& other,
                                  const Look& look, std::size_t width) {
  const std::size_t most = width < kPageWidth ? 10 : 24;
  Table table({Side::left, Side::right, Side::right});
  table.head({"", clipped(words::printable(one.grow.name), most),
              clipped(words::printable(other.grow.name), most)});
  const auto row = [&](const std::string& title, auto&& figure) {
    table.add({title, clipped(figure(one), most), clipped(figure(other), most)});
  };
  const auto of_whole = [&](const std::string& title, auto&& figure) {
    row(title, [&](const GrowFigures& f) { return figure(f.whole); });
  };
  row("crop", [](const GrowFigures& f) { return words::printable(f.grow.crop); });
  row("harvest", [](const GrowFigures& f) {
    return f.grow.harvests.empty() ? kUnknown : weight_text(f.grow.harvest_g());
  });
  row("  a plant", [](const GrowFigures& f) {
    const auto each = f.grow.harvest_g_per_plant();
    return each ? weight_text(*each) : kUnknown;
  });
  of_whole("days", [](const PartFigures& p) { return words::decimals(p.days, 1); });
  of_whole("VPD in band", in_band);
  of_whole("canopy, mean", [&](const PartFigures& p) { return degrees(p.canopy_mean_c, look); });
  of_whole("floods, complete", floods_text);
  of_whole("water used", [&](const PartFigures& p) { return litres(p, look); });
  of_whole("pH, mean", [](const PartFigures& p) { return mean_text(p.ph); });
  of_whole("  a day", [](const PartFigures& p) { return drift_text(p.ph); });
  of_whole("EC, mean", [](const PartFigures& p) { return mean_text(p.ec); });
  of_whole("  a day", [](const PartFigures& p) { return drift_text(p.ec); });
  of_whole("alarms", [](const PartFigures& p) { return std::to_string(p.alarms); });

  // Stages of either, the first grow's order first; one that was entered twice is summed.
  std::vector<std::string> names;
  for (const GrowFigures* figures : {&one, &other})
    for (const PartFigures& part : figures->stages)
      if (std::find(names.begin(), names.end(), part.stage) == names.end())
        names.push_back(part.stage);
  for (const std::string& name : names) {
    const auto in_stage = [&](auto&& figure) {
      return [&name, figure](const GrowFigures& f) -> std::string {
        PartFigures sum;
        bool any = false;
        for (const PartFigures& part : f.stages) {
          if (part.stage != name) continue;
          any = true;
          sum.days += part.days;
          add(sum.tally, part.tally);
          for (const auto& [outcome, times] : part.floods) sum.floods[outcome] += times;
        }
        return any ? figure(sum) : kUnknown;
      };
    };
    row(clipped(words::printable(name), 16) + ", days",
        in_stage([](const PartFigures& p) { return words::decimals(p.days, 1); }));
    row("  in band", in_stage(in_band));
    row("  floods", in_stage(floods_text));
  }
  return table.text(look, width) +
         (one.trouble.empty() && other.trouble.empty()
              ? ""
              : wrapped("Incomplete: " + words::printable(one.trouble + other.trouble), width) +
                    "\n");
}

}  // namespace neap::client
