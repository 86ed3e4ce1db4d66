#include "drivers/simulated/weather.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <chrono>
#include <cmath>
#include <fstream>
#include <numbers>

#include "drivers/simulated/moist_air.h"
#include "drivers/simulated/noise.h"

namespace neap::drivers::simulated {
namespace {

constexpr double kDay = 86400;
constexpr double kWarmestHour = 16;
constexpr double kSlowKnots = 6 * 3600;  // s: weather moves within hours
constexpr double kQuickKnots = 1800;     // doors and cooking
constexpr double kIndoorGain = 0.0015;   // kg/kg that people add indoors; an assumption
constexpr std::size_t kMostRows = 2'000'000;

enum Channel : std::uint64_t { kSlowWarmth = 901, kQuickWarmth, kSlowVapour, kQuickVapour };

std::optional<double> number(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '"')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '"' || text.back() == '\r'))
    text.remove_suffix(1);
  double value = 0;
  const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (code != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) return {};
  return value;
}

std::vector<std::string_view> fields(std::string_view line) {
  std::vector<std::string_view> result;
  while (true) {
    const std::size_t comma = line.find(',');
    result.push_back(line.substr(0, comma));
    if (comma == std::string_view::npos) break;
    line.remove_prefix(comma + 1);
  }
  return result;
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.back() == '\r' || text.back() == ' ')) text.remove_suffix(1);
  return text;
}

// The columns' places in the header line.
struct Columns {
  std::size_t time = 0, temperature = 0, humidity = 0;
};

std::optional<Columns> find_columns(std::string_view header, const SimulationSetup& setup,
                                    std::string& error) {
  const auto names = fields(trimmed(header));
  const auto place = [&](const std::string& name, std::string_view key, std::size_t& into) {
    for (std::size_t i = 0; i < names.size(); ++i) {
      if (names[i] != name) continue;
      into = i;
      return true;
    }
    error = setup.weather_csv + ":1: no column '" + name + "' (" + std::string(key) +
            "); the header has: " + std::string(trimmed(header));
    return false;
  };
  Columns c;
  if (!place(setup.csv_time, "simulation.csv.time", c.time) ||
      !place(setup.csv_temperature, "simulation.csv.temperature", c.temperature) ||
      !place(setup.csv_humidity, "simulation.csv.humidity", c.humidity))
    return {};
  return c;
}

// A row that has both values; others are bridged.
std::optional<Record::Row> row_of(std::string_view line, const Columns& columns) {
  const auto cells = fields(line);
  if (cells.size() <= std::max({columns.time, columns.temperature, columns.humidity})) return {};
  const auto at = civil_seconds(trimmed(cells[columns.time]));
  const auto celsius = number(cells[columns.temperature]);
  const auto percent = number(cells[columns.humidity]);
  if (!at || !celsius || !percent) return {};
  if (*celsius < -60 || *celsius > 60 || *percent < 0 || *percent > 100) return {};
  return Record::Row{*at, *celsius, *percent};
}

}  // namespace

std::optional<std::int64_t> civil_seconds(std::string_view text) {
  std::array<int, 6> part{};
  constexpr std::array<std::size_t, 6> kWidth{4, 2, 2, 2, 2, 2};
  constexpr std::array<std::string_view, 6> kBefore{"", "-", "-", "T ", ":", ":"};
  std::size_t i = 0;
  for (; i < part.size(); ++i) {
    if (i == 5 && (text.empty() || text == "Z")) break;  // seconds may be left out
    if (i > 0) {
      if (text.empty() || kBefore[i].find(text.front()) == std::string_view::npos) return {};
      text.remove_prefix(1);
    }
    if (text.size() < kWidth[i]) return {};
    const char* last = text.data() + kWidth[i];
    const auto [end, code] = std::from_chars(text.data(), last, part[i]);
    if (code != std::errc() || end != last) return {};
    text.remove_prefix(kWidth[i]);
  }
  if (!text.empty() && text != "Z") return {};
  using namespace std::chrono;
  const year_month_day day{year{part[0]}, month{static_cast<unsigned>(part[1])},
                           std::chrono::day{static_cast<unsigned>(part[2])}};
  if (!day.ok() || part[3] < 0 || part[3] > 23 || part[4] < 0 || part[4] > 59 || part[5] < 0 ||
      part[5] > 59)
    return {};
  return std::int64_t{sys_days{day}.time_since_epoch().count()} * 86400 + part[3] * 3600 +
         part[4] * 60 + part[5];
}

Record Record::read(const SimulationSetup& setup, std::string& error) {
  Record result;
  std::ifstream file(setup.weather_csv);
  std::string line;
  if (!file || !std::getline(file, line)) {
    error = setup.weather_csv + ": cannot be read; give simulation.csv.path a readable CSV file";
    return result;
  }
  const auto columns = find_columns(line, setup, error);
  if (!columns) return result;
  while (std::getline(file, line) && result.rows_.size() < kMostRows) {
    const auto row = row_of(line, *columns);
    if (row && (result.rows_.empty() || row->at_s > result.rows_.back().at_s))
      result.rows_.push_back(*row);
  }
  if (result.rows_.size() < 2) {
    error = setup.weather_csv +
            ": fewer than two rows have time, temperature and humidity; it needs hours of both";
    return result;
  }
  result.first_s_ = result.rows_.front().at_s;
  if (setup.csv_start.empty()) return result;
  const auto start = civil_seconds(setup.csv_start);
  if (!start || *start < result.rows_.front().at_s || *start > result.rows_.back().at_s) {
    error = "simulation.csv.start: '" + setup.csv_start + "' is no time within " +
            setup.weather_csv + "; write it like 2013-06-01T00:00";
    return result;
  }
  result.first_s_ = *start;
  return result;
}

Record::Value Record::at(double elapsed_s) const {
  const double begin = static_cast<double>(rows_.front().at_s);
  const double span = static_cast<double>(rows_.back().at_s) - begin;
  double into = std::fmod(static_cast<double>(first_s_) - begin + elapsed_s, span);
  if (into < 0) into += span;
  const double at = begin + into;
  const auto right =
      std::upper_bound(rows_.begin() + 1, rows_.end() - 1, at,
                       [](double t, const Row& row) { return t < static_cast<double>(row.at_s); });
  const Row& b = *right;
  const Row& a = *(right - 1);
  const double part = (at - static_cast<double>(a.at_s)) / static_cast<double>(b.at_s - a.at_s);
  return {a.celsius + part * (b.celsius - a.celsius), a.percent + part * (b.percent - a.percent)};
}

Weather Weather::make(const SimulationSetup& setup, const Parameters& parameters,
                      std::int64_t local_start_s, std::string& error) {
  Weather result;
  result.parameters_ = parameters;
  result.seed_ = setup.seed;
  result.local_start_s_ = local_start_s;
  result.is_room_ = setup.csv_is_room;
  if (setup.weather == "csv") {
    Record record = Record::read(setup, error);
    if (error.empty()) result.record_ = std::move(record);
  } else if (setup.weather != "synthetic") {
    error = "simulation: weather is '" + setup.weather + "'; must be synthetic or csv";
  }
  return result;
}

Surroundings Weather::made_up(double elapsed_s) const {
  const Parameters& p = parameters_;
  const double local = static_cast<double>(local_start_s_) + elapsed_s;
  const double phase = 2 * std::numbers::pi * (std::fmod(local, kDay) / kDay - kWarmestHour / 24);
  const double day = std::cos(phase);
  const auto drift = [&](Channel slow, Channel quick) {
    return 0.9 * wander(seed_, slow, elapsed_s, kSlowKnots) +
           0.3 * wander(seed_, quick, elapsed_s, kQuickKnots);
  };
  Surroundings result;
  result.building_c = p.building_c + p.building_swing_c * day +
                      p.building_noise_c * drift(kSlowWarmth, kQuickWarmth);
  const double wanted =
      p.building_w_g_kg / 1000 + p.building_noise_g_kg / 1000 * drift(kSlowVapour, kQuickVapour);
  const double most = humidity_ratio(0.9 * saturation_kpa(result.building_c));
  result.building_w = std::clamp(wanted, 0.0005, most);
  // Outdoors: cooler by as much as a mild heating day, with three times the swing.
  result.outdoor_c = result.building_c - 6 + 2 * p.building_swing_c * day;
  const double outdoor_w = std::max(0.0005, result.building_w - kIndoorGain);
  result.outdoor_kpa = std::min(vapour_kpa(outdoor_w), 0.98 * saturation_kpa(result.outdoor_c));
  return result;
}

Surroundings Weather::at(double elapsed_s) const {
  if (!record_) return made_up(elapsed_s);
  const Record::Value value = record_->at(elapsed_s);
  const double kpa = value.percent / 100 * saturation_kpa(value.celsius);
  if (is_room_) {
    Surroundings result = made_up(elapsed_s);
    result.room_c = value.celsius;
    result.room_w = humidity_ratio(kpa);
    return result;
  }
  Surroundings result;
  result.outdoor_c = value.celsius;
  result.outdoor_kpa = kpa;
  // Heated to at least building_c, never cooled; people and kitchens add to the outdoor vapour.
  result.building_c = std::max(parameters_.building_c, value.celsius);
  result.building_w = std::min(humidity_ratio(kpa) + kIndoorGain,
                               humidity_ratio(0.9 * saturation_kpa(result.building_c)));
  return result;
}

}  // namespace neap::drivers::simulated
