#include "daemon/client/care.h"

#include <algorithm>

#include "daemon/client/diary.h"
#include "daemon/client/looks.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

constexpr int kMostRows = 2'000'000;
constexpr double kHourMs = 3'600'000;
constexpr double kDayHours = 24;

double hours_of(Millis span) { return static_cast<double>(span.count()) / kHourMs; }

// Hours that an output ran; of the fan, at full level.
double run_hours(journal::Reader& reader, Output output, std::int64_t from, std::int64_t to) {
  if (from >= to) return 0;  // between days that follow on each other
  double hours = 0;
  int level = 0;
  std::int64_t at = from;
  const auto until = [&](std::int64_t tick) {
    const double weight = output == Output::exhaust_fan ? level / 1000.0 : level > 0 ? 1 : 0;
    hours += weight * static_cast<double>(std::max<std::int64_t>(0, tick - at)) / kHourMs;
    at = std::max(at, tick);
  };
  for (const journal::LevelRow& row : reader.levels(output, {from, to})) {
    until(row.tick);
    level = row.permille;
  }
  until(to);
  return hours;
}

// The same out of the days that the daemon has summed up, and the rest around them.
double run_hours_by_days(journal::Reader& reader, Output output, double (*of_day)(const DayTally&),
                         std::int64_t from, std::int64_t to) {
  double hours = 0;
  std::int64_t at = from;
  for (const journal::EventRow& row :
       reader.events({from, to}, {EventKind::day_closed}, kMostRows)) {
    const DayTally& day = row.event.day;
    if (day.began_tick < at) continue;
    hours += run_hours(reader, output, at, day.began_tick) + of_day(day);
    at = row.at.tick;
  }
  return hours + run_hours(reader, output, at, to);
}

double used_since(journal::Reader& reader, CareCount count, std::int64_t from, std::int64_t to) {
  switch (count) {
    case CareCount::fan_hours:
      return run_hours_by_days(
          reader, Output::exhaust_fan, [](const DayTally& day) { return day.fan_hours; }, from, to);
    case CareCount::pump_hours:
      return run_hours_by_days(
          reader, Output::pump, [](const DayTally& day) { return hours_of(day.pump_on); }, from,
          to);
    case CareCount::dehumidifier_hours:
      return run_hours_by_days(
          reader, Output::dehumidifier,
          [](const DayTally& day) { return hours_of(day.dehumidifier_on); }, from, to);
    case CareCount::light_hours:
      return run_hours(reader, Output::light, from, to);
    case CareCount::floods:
      return static_cast<double>(reader.cycles({from, to}).size());
    case CareCount::days:
      return hours_of(Millis{to - from}) / kDayHours;
  }
  return 0;
}

std::string_view unit_of(CareCount count) {
  switch (count) {
    case CareCount::floods:
      return "floods";
    case CareCount::days:
      return "days";
    case CareCount::fan_hours:
    case CareCount::pump_hours:
    case CareCount::dehumidifier_hours:
    case CareCount::light_hours:
      return "h";
  }
  return "";
}

}  // namespace

const std::vector<CarePart>& care_parts() {
  using settings::Care;
  static const std::vector<CarePart> kParts{
      {"filter", "exhaust filter", "change or wash it", CareCount::fan_hours, Output::exhaust_fan,
       [](const Care& care) { return hours_of(care.filter); }},
      {"strainer", "intake strainer", "clean it", CareCount::floods, Output::pump,
       [](const Care& care) { return static_cast<double>(care.strainer); }},
      {"pump", "flood pump", "open it, clean the rotor", CareCount::pump_hours, Output::pump,
       [](const Care& care) { return hours_of(care.pump); }},
      {"air_stone", "air stone", "change it", CareCount::days, Output::air_pump,
       [](const Care& care) { return hours_of(care.air_stone) / kDayHours; }},
      {"bucket", "dehumidifier bucket", "empty it", CareCount::dehumidifier_hours,
       Output::dehumidifier, [](const Care& care) { return hours_of(care.bucket); }},
      {"light", "light", "measure it, or change it", CareCount::light_hours, Output::light,
       [](const Care& care) { return hours_of(care.light); }},
  };
  return kParts;
}

std::vector<CareState> care_of(journal::Reader& reader, const settings::Loaded& loaded,
                               const std::vector<journal::DiaryRow>& diary, CareOf which) {
  std::vector<CareState> states;
  const std::int64_t to = reader.last_tick().value_or(0);
  const std::int64_t first = reader.first_tick().value_or(to);
  for (const CarePart& part : care_parts()) {
    if (part.output && !loaded.plan.outputs[*part.output]) continue;
    CareState state;
    state.part = &part;
    if (const double due = part.due(loaded.care); due > 0) state.due = due;
    if (which == CareOf::reminded && !state.due) continue;
    for (const journal::DiaryRow& row : diary) {
      if (row.kind != "care" || row.subject != part.name) continue;
      state.last = row.happened;
      state.last_words = row.says;
      state.last_number.reset();
      if (row.number != 0) state.last_number = row.number;
    }
    const std::int64_t from = std::clamp(state.last ? state.last->tick : first, first, to);
    state.used = used_since(reader, part.count, from, to);
    states.push_back(std::move(state));
  }
  return states;
}

std::string care_figure(const CareState& state) {
  const auto figure = [](double value) {
    constexpr double kSmall = 10;
    const bool whole = value >= kSmall || value == static_cast<double>(static_cast<int>(value));
    return words::decimals(value, whole ? 0 : 1);
  };
  return figure(state.used) + (state.due ? " of " + figure(*state.due) : "") + " " +
         std::string(unit_of(state.part->count));
}

std::vector<std::string> care_due(const Session& session) {
  std::vector<std::string> lines;
  std::string error;
  const auto reader = journal::Reader::open(session.globals.journal, error);
  if (!reader || !reader->last_tick()) return lines;
  const auto settings = settings::load_text(reader->settings_in_force());
  if (!settings.loaded) return lines;
  const auto diary = diary_of(session);
  for (const CareState& state : care_of(*reader, *settings.loaded, diary, CareOf::reminded))
    if (state.is_due())
      lines.push_back(std::string(state.part->title) + ": " + std::string(state.part->what) + " (" +
                      care_figure(state) + ")");
  if (const auto line = looks_due(*reader, *settings.loaded, diary)) lines.push_back(*line);
  return lines;
}

}  // namespace neap::client
