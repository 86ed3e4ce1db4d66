#include <algorithm>

#include "daemon/client/ahead.h"
#include "daemon/client/zone.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

using nlohmann::json;

Millis from_seconds(double s) { return Millis{static_cast<std::int64_t>(s * 1000)}; }

std::string band_text(const Band& band) {
  return words::decimals(band.low.value, 2) + " to " + words::decimals(band.high.value, 2) + " kPa";
}

std::string clock_json(std::int32_t date, std::int32_t second) {
  return words::civil_date(date) + "T" + words::clock_time(second);
}

std::string flood_text(const Plan& plan, const StagePlan& stage, const FloodSlot& slot,
                       const words::Style& style) {
  const FloodPlan& floods = stage.floods;
  std::string text = "flood " + std::to_string(slot.id.number);
  if (floods.depth == Depth::by_litres) text += ", " + words::volume(floods.litres.value, style);
  if (soaks(plan, floods)) text += ", soak " + words::duration(floods.soak);
  if (slot.moved())
    text += "; quiet hours moved it from " + words::clock_time(slot.asked.second_of_day);
  return text;
}

std::string light_text(const StagePlan& stage) {
  std::string text = "lights on for " + words::duration(seconds{stage.light_length_s});
  if (stage.light_level != kRunning)
    text += " at " + words::level(Output::light, stage.light_level);
  return text;
}

// Only what the settings say: the air of the days ahead is not known.
std::string demand_line(const FloodPlan& floods) {
  return "Floods come by demand: at " + words::decimals(floods.demand_kpa_h, 1) +
         " kPa h since the last, no sooner than " + words::duration(floods.no_sooner) +
         ", no later than " + words::duration(floods.no_later) +
         ". Those shown are for air in mid-band.";
}

struct Line {
  std::int32_t second;
  std::string text;
};

void render_day(const Plan& plan, const StagePlan& stage, const AheadDay& day, const Look& look,
                std::string& out) {
  std::vector<Line> lines;
  const bool by_demand = stage.floods.rule == SlotRule::by_demand;
  if (day.lights_on_s) lines.push_back({*day.lights_on_s, light_text(stage)});
  if (day.lights_off_s) lines.push_back({*day.lights_off_s, "lights off"});
  for (const FloodSlot& slot : day.floods)
    lines.push_back({slot.start.second_of_day,
                     (by_demand ? "about: " : "") + flood_text(plan, stage, slot, look.style)});
  std::stable_sort(lines.begin(), lines.end(),
                   [](const Line& a, const Line& b) { return a.second < b.second; });
  std::string title = weekday_date(day.date) + ": ";
  const std::size_t count = day.floods.size();
  if (count > 0 && by_demand) title += "about ";
  title += count == 0 ? "no floods" : std::to_string(count) + (count == 1 ? " flood" : " floods");
  if (count > 0 && day.pump_s)
    title += ", pump about " + words::duration(from_seconds(*day.pump_s));
  out += "\n" + toned(look, Tone::strong, title) + "\n";
  for (const Line& line : lines)
    out += "  " + words::clock_time(line.second) + "  " + line.text + "\n";
}

std::string stage_text(const Plan& plan, const Ahead& ahead) {
  const auto& stages = plan.programme.stages;
  const StagePlan& stage = stages[static_cast<std::size_t>(ahead.stage.index)];
  std::string text = "Stage " + words::printable(stage.name) + ", day " +
                     std::to_string(ahead.from.date - ahead.stage.entered_date + 1);
  if (stage.days > 0) text += " of " + std::to_string(stage.days);
  if (!ahead.stage.confirmed) text += " (by the days since the programme began)";
  if (!ahead.stage_due) return text + ".";
  const std::string next =
      words::printable(stages[static_cast<std::size_t>(ahead.stage.index) + 1].name);
  return text + ". Its days are over on " + words::civil_date(*ahead.stage_due) +
         "; then confirm with `neap stage " + next + "`.";
}

// Null where floods have times of their own.
json demand_json(const FloodPlan& floods) {
  if (floods.rule != SlotRule::by_demand) return nullptr;
  return {{"amount_kpa_h", floods.demand_kpa_h},
          {"no_sooner_s", floods.no_sooner.count() / 1000},
          {"no_later_s", floods.no_later.count() / 1000}};
}

json day_json(const AheadDay& day) {
  json floods = json::array();
  for (const FloodSlot& slot : day.floods)
    floods.push_back({{"photoperiod", words::civil_date(slot.id.date)},
                      {"number", slot.id.number},
                      {"start", clock_json(slot.start.date, slot.start.second_of_day)},
                      {"asked", clock_json(slot.asked.date, slot.asked.second_of_day)},
                      {"moved", slot.moved()}});
  json out = {{"date", words::civil_date(day.date)},
              {"lights_on", nullptr},
              {"lights_off", nullptr},
              {"floods", floods},
              {"pump_s", nullptr}};
  if (day.lights_on_s) out["lights_on"] = clock_json(day.date, *day.lights_on_s);
  if (day.lights_off_s) out["lights_off"] = clock_json(day.date, *day.lights_off_s);
  if (day.pump_s) out["pump_s"] = *day.pump_s;
  return out;
}

}  // namespace

std::string targets_text(const Plan& plan, const StagePlan& stage, const words::Style& style) {
  const std::string kind = plan.climate.band_of == BandOf::leaf ? "leaf" : "air";
  std::string text = stage.fallow ? "No bands in fallow"
                                  : "VPD of the " + kind + " " + band_text(stage.vpd_day) +
                                        " by day, " + band_text(stage.vpd_night) + " by night";
  return text + "; air " + words::temperature(stage.air_lowest.value, style) + " to " +
         words::temperature(stage.air_highest.value, style) + ", humidity to " +
         words::decimals(stage.humidity_ceiling.value, 0) + " %.";
}

json ahead_json(const Plan& plan, const Ahead& ahead) {
  const StagePlan& stage = plan.programme.stages[static_cast<std::size_t>(ahead.stage.index)];
  json days = json::array();
  for (const AheadDay& day : ahead.days) days.push_back(day_json(day));
  return {{"name", plan.name},
          {"mode", plan.mode == Mode::observe ? "observe" : "control"},
          {"from", clock_json(ahead.from.date, ahead.from.second_of_day)},
          {"stage",
           {{"name", stage.name},
            {"index", ahead.stage.index},
            {"day", ahead.from.date - ahead.stage.entered_date + 1},
            {"days", stage.days},
            {"confirmed", ahead.stage.confirmed}}},
          {"targets",
           {{"band_of", plan.climate.band_of == BandOf::leaf ? "leaf" : "air"},
            {"vpd_day_kpa", {stage.vpd_day.low.value, stage.vpd_day.high.value}},
            {"vpd_night_kpa", {stage.vpd_night.low.value, stage.vpd_night.high.value}},
            {"air_lowest_c", stage.air_lowest.value},
            {"air_highest_c", stage.air_highest.value},
            {"humidity_ceiling", stage.humidity_ceiling.value}}},
          {"by_demand", demand_json(stage.floods)},
          {"pump_limit_s_per_day", static_cast<double>(plan.table.max_on_per_day.count()) / 1000},
          {"days", days}};
}

std::string render_ahead(const Plan& plan, const Ahead& ahead, const Look& look) {
  const StagePlan& stage = plan.programme.stages[static_cast<std::size_t>(ahead.stage.index)];
  std::string out =
      toned(look, Tone::strong,
            words::printable(plan.name) + ", the plan from " + weekday_date(ahead.from.date) + " " +
                words::clock_time(ahead.from.second_of_day)) +
      "\n";
  if (in_another_hand(plan, Output::pump))
    out += toned(look, Tone::warning,
                 "The pump is in another hand: these floods are what neap would do.") +
           "\n";
  out += wrapped(stage_text(plan, ahead), kPageWidth, 2) + "\n";
  out += wrapped(targets_text(plan, stage, look.style), kPageWidth, 2) + "\n";
  if (stage.floods.rule == SlotRule::by_demand)
    out += wrapped(demand_line(stage.floods), kPageWidth, 2) + "\n";
  const QuietHours& quiet = plan.programme.quiet;
  std::string limits = "The pump may run " + words::duration(plan.table.max_on_per_day) + " a day";
  if (quiet.fitted)
    limits += "; quiet hours are " + words::clock_time(quiet.from_s) + " to " +
              words::clock_time(quiet.to_s);
  out += wrapped(limits + ".", kPageWidth, 2) + "\n";
  for (const AheadDay& day : ahead.days) render_day(plan, stage, day, look, out);
  return out;
}

}  // namespace neap::client
