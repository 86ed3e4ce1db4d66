// What `neap size` says: a table for each kind of device, and what follows from it.
#include <string>

#include "daemon/client/size.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

using nlohmann::json;
using words::decimals;

std::string size_text(SizeOf what, const Equipment& e) {
  if (!fits(what, e)) return "none";
  switch (what) {
    case SizeOf::dehumidifier:
      return decimals(*e.drying_l_per_day, 1) + " L/d in the " +
             (e.place == DehumidifierPlace::room ? "room" : "tent");
    case SizeOf::humidifier:
      return decimals(*e.mist_ml_per_h, 0) + " mL/h";
    case SizeOf::fan:
      return decimals(e.fan_m3_per_h, 0) + " m3/h";
  }
  return {};
}

std::string with_name(SizeOf what, const Equipment& e) {
  if (!fits(what, e)) return "no " + std::string(name(what));
  return std::string(name(what)) + " of " + size_text(what, e);
}

// The devices that do not change among the trials of an answer.
std::string others_text(const SizeAnswer& answer) {
  std::string text;
  for (const SizeOf what : {SizeOf::dehumidifier, SizeOf::humidifier, SizeOf::fan}) {
    if (what == answer.what) continue;
    text += (text.empty() ? "" : ", ") + with_name(what, answer.trials.front().equipment);
  }
  return text;
}

std::string table_text(const SizeAnswer& answer, const Look& look) {
  using Side = Table::Side;
  Table table({Side::left, Side::left, Side::right, Side::right, Side::right, Side::right,
               Side::right, Side::right});
  table.head({"", "", "in band %", "day %", "night %", "starts/d", "warm h/d", "kWh/d"});
  for (std::size_t i = 0; i < answer.trials.size(); ++i) {
    const SizeFigures& f = answer.trials[i].figures;
    const Tone tone = i == answer.chosen ? Tone::good : Tone::plain;
    table.add({{i == answer.chosen ? ">" : "", tone},
               {size_text(answer.what, answer.trials[i].equipment), tone},
               {decimals(f.in_band, 1), tone},
               {decimals(f.day, 1), tone},
               {decimals(f.night, 1), tone},
               {decimals(f.starts_a_day, 0), tone},
               {decimals(f.warm_h_a_day, 1), tone},
               {decimals(f.kwh_a_day, 2), tone}});
  }
  return table.text(look, kPageWidth);
}

std::string conclusion(const SizeAnswer& answer) {
  const SizeTrial& chosen = answer.trials[answer.chosen];
  std::string text =
      "The smallest within a point of the best: " + size_text(answer.what, chosen.equipment) +
      ", " + decimals(chosen.figures.in_band, 1) + " % in band.";
  if (answer.what != SizeOf::dehumidifier) return text;
  if (const auto over = oversized(answer.trials)) {
    const SizeTrial& largest = answer.trials[over->largest];
    const SizeTrial& best = answer.trials[over->best];
    text += " In the tent a larger one is worse: " + size_text(answer.what, largest.equipment) +
            " holds " + decimals(largest.figures.in_band, 1) + " %, " +
            size_text(answer.what, best.equipment) + " " + decimals(best.figures.in_band, 1) +
            " %, since each of its shortest runs overshoots the band.";
  }
  return text;
}

json equipment_json(const Equipment& e) {
  json out = {{"dehumidifier_l_per_day", nullptr},
              {"dehumidifier_in", nullptr},
              {"humidifier_ml_per_h", nullptr},
              {"fan_m3_per_h", e.fan_m3_per_h}};
  if (e.drying_l_per_day) {
    out["dehumidifier_l_per_day"] = *e.drying_l_per_day;
    out["dehumidifier_in"] = e.place == DehumidifierPlace::room ? "room" : "tent";
  }
  if (e.mist_ml_per_h) out["humidifier_ml_per_h"] = *e.mist_ml_per_h;
  return out;
}

json figures_json(const SizeFigures& f) {
  return {{"in_band_percent", f.in_band},       {"day_percent", f.day},
          {"night_percent", f.night},           {"starts_a_day", f.starts_a_day},
          {"too_warm_h_a_day", f.warm_h_a_day}, {"kwh_a_day", f.kwh_a_day}};
}

}  // namespace

json size_json(const SizeReport& report) {
  json answers = json::array();
  for (const SizeAnswer& answer : report.answers) {
    json trials = json::array();
    for (const SizeTrial& trial : answer.trials)
      trials.push_back({{"equipment", equipment_json(trial.equipment)},
                        {"figures", figures_json(trial.figures)}});
    answers.push_back({{"of", name(answer.what)},
                       {"trials", trials},
                       {"chosen", answer.chosen},
                       {"larger_in_the_tent_is_worse", answer.what == SizeOf::dehumidifier &&
                                                           oversized(answer.trials).has_value()}});
  }
  json out = {{"name", report.name}, {"stage", report.stage}, {"law", report.law},
              {"from", report.from}, {"days", report.days},   {"answers", answers}};
  if (!report.answers.empty()) {
    const SizeAnswer& last = report.answers.back();
    out["together"] = equipment_json(last.trials[last.chosen].equipment);
  }
  return out;
}

std::string render_size(const SizeReport& report, const Look& look) {
  std::string out =
      toned(look, Tone::strong,
            wrapped("Sizes for " + report.name + " in its stage " + report.stage + ", " +
                        std::to_string(report.days) + " d simulated from " + report.from +
                        " after one to settle, under the law " + report.law + ".",
                    kPageWidth, 2)) +
      "\n";
  for (const SizeAnswer& answer : report.answers) {
    out += "\n" +
           toned(look, Tone::strong,
                 wrapped("The " + std::string(name(answer.what)) + ", with " + others_text(answer),
                         kPageWidth, 2)) +
           "\n" + table_text(answer, look) + wrapped(conclusion(answer), kPageWidth, 2) + "\n";
  }
  if (report.answers.size() < 2) return out;
  const SizeAnswer& last = report.answers.back();
  const SizeTrial& best = last.trials[last.chosen];
  std::string together = "Together: ";
  for (const SizeOf what : {SizeOf::dehumidifier, SizeOf::humidifier, SizeOf::fan})
    together += (what == SizeOf::dehumidifier ? "" : ", ") + with_name(what, best.equipment);
  out +=
      "\n" +
      wrapped(together + ": " + decimals(best.figures.in_band, 1) + " % in band.", kPageWidth, 2) +
      "\n";
  return out;
}

}  // namespace neap::client
