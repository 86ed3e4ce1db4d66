#include "tests/bench/climate/bounds.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cinttypes>
#include <cstdio>
#include <fstream>
#include <sstream>
#include <stdexcept>

#include "drivers/simulated/plant.h"
#include "tests/bench/climate/clairvoyant.h"

namespace neap::arena {
namespace {

namespace sim = drivers::simulated;

constexpr int kWarmUpDays = 1;

// FNV-1a, 64 bits.
class Hash {
 public:
  void add(std::string_view text) {
    for (const char c : text) value_ = (value_ ^ static_cast<unsigned char>(c)) * 1099511628211u;
    value_ = (value_ ^ 0xff) * 1099511628211u;
  }
  void add(double number) {
    std::array<char, 32> text{};
    std::snprintf(text.data(), text.size(), "%.5g", number);
    add(text.data());
  }
  std::uint64_t value() const { return value_; }

 private:
  std::uint64_t value_ = 14695981039346656037u;
};

// Six hours with every output moved at its own rhythm, looked at each half hour.
void add_behaviour(Hash& hash, const sim::Plant& plant) {
  sim::State s = plant.start();
  for (int minute = 0; minute < 360; ++minute) {
    PerOutput<Permille> outputs;
    for (const OutputInfo& row : kOutputs) outputs[row.output] = row.safe;
    const auto when = [](bool is) { return is ? kRunning : kStopped; };
    outputs[Output::light] = when(minute < 240);
    outputs[Output::pump] = when(minute % 120 >= 100 && minute % 120 < 110);
    outputs[Output::exhaust_fan] = Permille{static_cast<std::int16_t>(200 + minute / 20 % 5 * 200)};
    outputs[Output::dehumidifier] = when(minute / 15 % 3 == 1);
    outputs[Output::humidifier] = when(minute / 10 % 5 == 2);
    const sim::Acting acting = plant.act(s, outputs);
    for (int second = 0; second < 60; ++second) plant.step(s, acting);
    if (minute % 30 != 29) continue;
    for (const double x : {s.air_c, s.air_w, s.surface_c, s.leaf_c, s.medium_c, s.reservoir_c,
                           s.room_c, s.room_w, s.room_mass_c, s.building_c, s.building_w,
                           s.ledger.dehumidifier_j, s.ledger.transpired_kg})
      hash.add(x);
  }
}

// The part of the settings that the floods depend on.
std::string_view table_part(std::string_view text) {
  const std::size_t begin = text.find("\ntable:");
  return text.substr(begin, text.find("\nclimate:", begin) - begin);
}

struct Column {
  const char* name;
  double Score::*member;
};
constexpr std::array kColumns{
    Column{"in", &Score::in_band},
    Column{"day", &Score::in_band_day},
    Column{"night", &Score::in_band_night},
    Column{"humid_h_night", &Score::night_humid_h},
    Column{"dry_h_night", &Score::night_dry_h},
    Column{"too_humid", &Score::too_humid},
    Column{"too_dry", &Score::too_dry},
    Column{"out_kpa_h_d", &Score::out_kpa_h_d},
    Column{"worst_kpa", &Score::worst_kpa},
    Column{"flood_below_kpa", &Score::flood_below_kpa},
    Column{"flood_recovery_min", &Score::flood_recovery_min},
    Column{"starts_d", &Score::starts_d},
    Column{"mist_starts_d", &Score::humidifier_starts_d},
    Column{"fan_moves_d", &Score::fan_moves_d},
    Column{"kwh_d", &Score::kwh_d},
    Column{"over_85_h_d", &Score::humid_h_d},
    Column{"temperature_h_d", &Score::temperature_h_d},
};

std::optional<Bound> parsed(const std::string& line) {
  std::istringstream words(line);
  Bound bound;
  words >> bound.scenario >> bound.seed >> bound.days >> std::hex >> bound.key >> std::dec;
  for (const Column& column : kColumns) words >> bound.score.*column.member;
  bound.score.days = bound.days;
  std::string rest;
  if (!words || words >> rest) return {};
  return bound;
}

}  // namespace

settings::Loaded load(const Scenario& scenario, std::uint64_t seed, const Beliefs& beliefs) {
  const std::string text = settings_text(scenario, seed, beliefs);
  auto result = settings::load_text(text);
  if (result.loaded) return std::move(*result.loaded);
  std::string told;
  for (const auto& problem : result.problems) told += settings::render(scenario.id, text, problem);
  throw std::runtime_error(told);
}

std::uint64_t bound_key(const Scenario& scenario, std::uint64_t seed, int days) {
  const settings::Loaded settings = load(scenario, seed);
  std::string error;
  const auto tent = drivers::make_tent(*settings.hardware.simulation, kStartUnixMs, 0, error);
  if (!tent) throw std::runtime_error(error);
  Hash hash;
  add_behaviour(hash, tent->plant());
  const std::string text = settings_text(scenario, seed);
  for (const std::string_view part :
       {std::string_view{scenario.stage}, std::string_view{scenario.outputs},
        std::string_view{scenario.quiet}, table_part(text)})
    hash.add(part);
  hash.add(scenario.believed.leaf_band ? "leaf" : "air");
  hash.add(static_cast<double>(days));
  hash.add(static_cast<double>(kClairvoyantVersion));
  return hash.value();
}

Bounds Bounds::read(const std::string& path) {
  Bounds bounds;
  std::ifstream file(path);
  std::string line;
  for (int number = 1; std::getline(file, line); ++number) {
    if (line.empty() || line.front() == '#') continue;
    const auto bound = parsed(line);
    if (!bound)
      throw std::runtime_error(path + ":" + std::to_string(number) +
                               ": not a bound; delete the line and compute it anew");
    bounds.put(*bound);
  }
  return bounds;
}

void Bounds::write(const std::string& path) const {
  std::ofstream file(path);
  file << "# The clairvoyant's scores. Made by: climate_bench --bound --days 2 --seed 201 202\n"
          "# and, for T1 to T30: climate_bench --bound --days 2 --seed 201 --tents 30\n"
          "# scenario seed days key";
  for (const Column& column : kColumns) file << ' ' << column.name;
  file << '\n';
  for (const Bound& bound : rows_) {
    std::array<char, 64> head{};
    std::snprintf(head.data(), head.size(), "%s %" PRIu64 " %d %016" PRIx64, bound.scenario.c_str(),
                  bound.seed, bound.days, bound.key);
    file << head.data();
    for (const Column& column : kColumns) {
      std::array<char, 32> cell{};
      std::snprintf(cell.data(), cell.size(), " %.6g", bound.score.*column.member);
      file << cell.data();
    }
    file << '\n';
  }
  if (!file.flush()) throw std::runtime_error(path + " cannot be written; give another file");
}

const Bound* Bounds::row(const std::string& scenario, std::uint64_t seed, int days) const {
  for (const Bound& bound : rows_)
    if (bound.scenario == scenario && bound.seed == seed && bound.days == days) return &bound;
  return nullptr;
}

std::optional<Score> Bounds::find(const Scenario& scenario, std::uint64_t seed, int days) const {
  const Bound* bound = row(scenario.id, seed, days);
  if (bound == nullptr) return {};
  if (bound->key != bound_key(scenario, seed, days))
    throw std::runtime_error(
        "the stored bound of " + scenario.id + ", seed " + std::to_string(seed) +
        ", is of another plant, scenario or search; run climate_bench --bound");
  return bound->score;
}

bool Bounds::holds(const Scenario& scenario, std::uint64_t seed, int days) const {
  const Bound* bound = row(scenario.id, seed, days);
  return bound != nullptr && bound->key == bound_key(scenario, seed, days);
}

void Bounds::put(Bound bound) {
  for (Bound& old : rows_) {
    if (old.scenario != bound.scenario || old.seed != bound.seed || old.days != bound.days)
      continue;
    old = std::move(bound);
    return;
  }
  rows_.push_back(std::move(bound));
}

int compute_bounds(std::span<const Scenario> scenarios, std::span<const std::uint64_t> seeds,
                   int days, const std::string& path) {
  Bounds bounds = Bounds::read(path);
  for (const std::uint64_t seed : seeds)
    for (const Scenario& scenario : scenarios) {
      if (bounds.holds(scenario, seed, days)) continue;
      const auto began = std::chrono::steady_clock::now();
      const Score score = clairvoyant(load(scenario, seed), kWarmUpDays, days);
      const std::chrono::duration<double> took = std::chrono::steady_clock::now() - began;
      bounds.put({scenario.id, seed, days, bound_key(scenario, seed, days), score});
      bounds.write(path);
      std::printf("%-4s %4" PRIu64
                  " in %5.1f day %5.1f night %5.1f T %.2f starts %4.1f kWh %.2f %5.1f s\n",
                  scenario.id.c_str(), seed, score.in_band, score.in_band_day, score.in_band_night,
                  score.temperature_h_d, score.starts_d, score.kwh_d, took.count());
      std::fflush(stdout);
    }
  return 0;
}

}  // namespace neap::arena
