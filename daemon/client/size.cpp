#include "daemon/client/size.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "daemon/client/tally.h"

namespace neap::client {
namespace {

constexpr std::array kTentDryers{0.5, 1.0, 2.0, 4.0, 8.0};  // L/d at 26.7 C and 60 %
constexpr std::array kRoomDryers{4.0, 8.0, 12.0};
constexpr std::array kHumidifiers{100.0, 250.0, 500.0};  // mL/h
constexpr std::array kFans{80.0, 120.0, 180.0, 250.0};   // m3/h

constexpr double kWithinPoints = 1;
constexpr double kWarmerAllowed = 0.5;  // h a day
constexpr double kWorsePoints = 2;

constexpr double kFanIdleWatt = 2;
constexpr double kFanWatt = 28;  // more at full level, of a fan of kFanOfWatt
constexpr double kFanOfWatt = 150;
constexpr double kTentLitresPerKwh = 1.15;
constexpr double kRoomLitresPerKwh = 1.4;
constexpr double kHumidifierWatt = 25;
constexpr int kMostRows = 2'000'000;

double hours_of(Millis span) { return static_cast<double>(span.count()) / 3'600'000; }

double percent(Millis part, Millis whole) {
  return whole > Millis{0} ? 100 * hours_of(part) / hours_of(whole) : 0;
}

// Wh of the fan, from the levels that it was given.
double fan_energy(journal::Reader& reader, double m3_per_h, std::int64_t from, std::int64_t to) {
  const double most = kFanWatt * m3_per_h / kFanOfWatt;
  double level = 0;
  double energy = 0;
  std::int64_t at = from;
  const auto until = [&](std::int64_t tick) {
    if (level > 0)
      energy += (kFanIdleWatt + most * level * level * level) * hours_of(Millis{tick - at});
    at = tick;
  };
  for (const journal::EventRow& row :
       reader.events({std::nullopt, to}, {EventKind::actuation}, kMostRows)) {
    if (row.event.output != Output::exhaust_fan) continue;
    if (row.at.tick > from) until(row.at.tick);
    level = row.event.level.value / 1000.0;
  }
  until(to);
  return energy;
}

double dehumidifier_watt(const Equipment& equipment) {
  const double per_kwh =
      equipment.place == DehumidifierPlace::room ? kRoomLitresPerKwh : kTentLitresPerKwh;
  return equipment.drying_l_per_day.value_or(0) / 24 / per_kwh * 1000;
}

}  // namespace

std::string_view name(SizeOf what) {
  switch (what) {
    case SizeOf::dehumidifier:
      return "dehumidifier";
    case SizeOf::humidifier:
      return "humidifier";
    case SizeOf::fan:
      return "fan";
  }
  return {};
}

bool fits(SizeOf what, const Equipment& equipment) {
  switch (what) {
    case SizeOf::dehumidifier:
      return equipment.drying_l_per_day.has_value();
    case SizeOf::humidifier:
      return equipment.mist_ml_per_h.has_value();
    case SizeOf::fan:
      return true;
  }
  return false;
}

std::vector<Equipment> sizes_of(SizeOf what, const Equipment& now) {
  std::vector<Equipment> sizes;
  const auto add = [&](auto change) {
    Equipment size = now;
    change(size);
    sizes.push_back(size);
  };
  switch (what) {
    case SizeOf::dehumidifier:
      add([](Equipment& e) { e.drying_l_per_day.reset(); });
      for (const double size : kTentDryers)
        add([&](Equipment& e) { e.place = DehumidifierPlace::tent, e.drying_l_per_day = size; });
      for (const double size : kRoomDryers)
        add([&](Equipment& e) { e.place = DehumidifierPlace::room, e.drying_l_per_day = size; });
      break;
    case SizeOf::humidifier:
      add([](Equipment& e) { e.mist_ml_per_h.reset(); });
      for (const double size : kHumidifiers) add([&](Equipment& e) { e.mist_ml_per_h = size; });
      break;
    case SizeOf::fan:
      for (const double size : kFans) add([&](Equipment& e) { e.fan_m3_per_h = size; });
      break;
  }
  const auto key = [](const Equipment& e) {
    const bool room = e.drying_l_per_day && e.place == DehumidifierPlace::room;
    return std::tuple(room, e.drying_l_per_day, e.mist_ml_per_h, e.fan_m3_per_h);
  };
  if (std::none_of(sizes.begin(), sizes.end(), [&](const auto& e) { return key(e) == key(now); }))
    sizes.push_back(now);
  std::stable_sort(sizes.begin(), sizes.end(),
                   [&](const auto& a, const auto& b) { return key(a) < key(b); });
  return sizes;
}

SizeFigures figures_of(journal::Reader& reader, const Plan& plan, const StagePlan& stage,
                       const Equipment& equipment, std::int64_t from, std::int64_t to) {
  const DayTally tally = tally_of(reader, plan, from, to);
  const double days = hours_of(Millis{to - from}) / 24;
  SizeFigures figures;
  figures.in_band =
      percent(tally.day_in_band + tally.night_in_band, tally.day_known + tally.night_known);
  figures.day = percent(tally.day_in_band, tally.day_known);
  figures.night = percent(tally.night_in_band, tally.night_known);
  figures.starts_a_day = tally.dehumidifier_starts / days;
  figures.warm_h_a_day =
      hours_of(time_over(reader, Point::canopy_temperature, stage.air_highest.value, from, to)) /
      days;
  const double energy = fan_energy(reader, equipment.fan_m3_per_h, from, to) +
                        dehumidifier_watt(equipment) * hours_of(tally.dehumidifier_on) +
                        kHumidifierWatt * hours_of(tally.humidifier_on);
  figures.kwh_a_day = energy / 1000 / days;
  return figures;
}

std::size_t smallest_good(const std::vector<SizeTrial>& trials) {
  double best = 0;
  double coolest = trials.front().figures.warm_h_a_day;
  for (const SizeTrial& trial : trials) {
    best = std::max(best, trial.figures.in_band);
    coolest = std::min(coolest, trial.figures.warm_h_a_day);
  }
  // Rounded as they are shown, so that a reader finds the same.
  const auto tenths = [](double value) { return std::lround(value * 10); };
  const auto good = [&](const SizeTrial& trial) {
    return tenths(trial.figures.in_band) >= tenths(best - kWithinPoints) &&
           trial.figures.warm_h_a_day <= coolest + kWarmerAllowed;
  };
  const auto holds_best = [&](const SizeTrial& trial) { return trial.figures.in_band == best; };
  auto found = std::find_if(trials.begin(), trials.end(), good);
  if (found == trials.end()) found = std::find_if(trials.begin(), trials.end(), holds_best);
  return static_cast<std::size_t>(found - trials.begin());
}

std::optional<Oversized> oversized(const std::vector<SizeTrial>& trials) {
  std::optional<Oversized> found;
  for (std::size_t i = 0; i < trials.size(); ++i) {
    const Equipment& equipment = trials[i].equipment;
    if (!equipment.drying_l_per_day || equipment.place != DehumidifierPlace::tent) continue;
    if (!found) found = Oversized{i, i};
    found->largest = i;
    if (trials[i].figures.in_band > trials[found->best].figures.in_band) found->best = i;
  }
  if (!found ||
      trials[found->largest].figures.in_band > trials[found->best].figures.in_band - kWorsePoints)
    return std::nullopt;
  return found;
}

}  // namespace neap::client
