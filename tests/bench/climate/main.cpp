// climate_bench: climate laws side by side over scenarios and seeds, in two processes at most.
#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdio>
#include <future>
#include <map>
#include <string>
#include <vector>

#include "daemon/core/predictive_law.h"
#include "daemon/core/two_position_law.h"
#include "tests/bench/climate/arena.h"
#include "tests/bench/climate/baselines.h"
#include "tests/bench/climate/scenarios.h"

namespace neap::arena {
namespace {

struct Controller {
  std::string name;
  const ClimateLaw* law;
  bool bare;
};

const std::vector<Controller>& controllers() {
  static const FixedFan quarter{Permille{250}};
  static const FixedFan forty{Permille{400}};
  static const ThermostatFan thermostat;
  static const Humidistat humidistat;
  static const VpdPi pi;
  static const TwoPositionLaw two_position;
  static const PredictiveLaw predictive;
  static const std::vector<Controller> all{
      {"fan 25 %", &quarter, true},      {"fan 40 %", &forty, true},
      {"thermostat", &thermostat, true}, {"humidistat", &humidistat, true},
      {"PI on VPD", &pi, true},          {"two position", &two_position, false},
      {"predictive", &predictive, false},
  };
  return all;
}

struct Options {
  std::vector<std::string> scenarios, controllers;
  std::vector<std::uint64_t> seeds{201, 202};
  int days = 4, tents = 0;
  double flow = 1, drying = 1;
  bool details = false;
};

struct Job {
  Scenario scenario;
  std::uint64_t seed;
  const Controller* controller;
  Score score;
};

void play(Job& job, const Options& options) {
  const std::string text = settings_text(job.scenario, job.seed, {options.flow, options.drying});
  auto result = settings::load_text(text);
  if (!result.loaded) {
    for (const auto& problem : result.problems)
      std::fputs(settings::render(job.scenario.id, text, problem).c_str(), stderr);
    std::exit(1);
  }
  Run run;
  run.settings = std::move(*result.loaded);
  run.law = job.controller->law;
  run.bare = job.controller->bare;
  run.days = options.days;
  job.score = arena::run(run);
}

void print_details(const Job& job) {
  const Score& s = job.score;
  std::printf(
      "%-4s %4llu %-13s in %5.1f day %5.1f night %5.1f | humid %4.1f dry %4.1f kPah %.2f worst "
      "%.2f | flood -%.2f %4.1f min | starts %4.1f mist %5.1f moves %5.1f kWh %.2f | >85 %.2f T "
      "%.2f illegal %d flag %4.1f | floods %d%s%s | %.1f/%.0f us\n",
      job.scenario.id.c_str(), static_cast<unsigned long long>(job.seed),
      job.controller->name.c_str(), s.in_band, s.in_band_day, s.in_band_night, s.too_humid,
      s.too_dry, s.out_kpa_h_d, s.worst_kpa, s.flood_below_kpa, s.flood_recovery_min, s.starts_d,
      s.humidifier_starts_d, s.fan_moves_d, s.kwh_d, s.humid_h_d, s.temperature_h_d, s.illegal,
      s.flagged, s.floods_complete, s.latched.empty() ? "" : " LATCHED", s.latched.c_str(),
      s.decision_mean_us, s.decision_most_us);
}

void print_table(const std::vector<Job>& jobs) {
  std::vector<std::string> rows;
  std::map<std::string, std::map<std::string, std::pair<double, int>>> cells;
  for (const Job& job : jobs) {
    if (std::find(rows.begin(), rows.end(), job.scenario.id) == rows.end())
      rows.push_back(job.scenario.id);
    auto& cell = cells[job.scenario.id][job.controller->name];
    cell.first += job.score.in_band;
    ++cell.second;
  }
  std::vector<const Controller*> columns;
  for (const Controller& c : controllers())
    if (std::any_of(jobs.begin(), jobs.end(), [&](const Job& j) { return j.controller == &c; }))
      columns.push_back(&c);
  std::printf("%% of time in band\n%-6s", "");
  for (const Controller* c : columns) std::printf(" %12s", c->name.c_str());
  std::printf("\n");
  std::map<std::string, double> sums;
  for (const std::string& id : rows) {
    std::printf("%-6s", id.c_str());
    for (const Controller* c : columns) {
      const auto& [sum, count] = cells[id][c->name];
      std::printf(" %12.1f", sum / count);
      sums[c->name] += sum / count;
    }
    std::printf("\n");
  }
  std::printf("%-6s", "mean");
  for (const Controller* c : columns)
    std::printf(" %12.1f", sums[c->name] / static_cast<double>(rows.size()));
  std::printf("\n");
}

std::vector<Job> jobs_of(const Options& options) {
  const auto chosen = [](const std::vector<std::string>& names, const std::string& name) {
    return names.empty() || std::find(names.begin(), names.end(), name) != names.end();
  };
  std::vector<Scenario> rows;
  if (options.tents == 0)
    for (const Scenario& row : scenarios())
      if (chosen(options.scenarios, row.id)) rows.push_back(row);
  for (int i = 1; i <= options.tents; ++i)
    rows.push_back(random_tent(static_cast<std::uint64_t>(i)));
  std::vector<Job> jobs;
  for (const Scenario& row : rows)
    for (const std::uint64_t seed : options.seeds)
      for (const Controller& c : controllers())
        if (chosen(options.controllers, c.name)) jobs.push_back({row, seed, &c, {}});
  return jobs;
}

int bench(const Options& options) {
  std::vector<Job> jobs = jobs_of(options);
  const auto half = [&](std::size_t first) {
    for (std::size_t i = first; i < jobs.size(); i += 2) play(jobs[i], options);
  };
  auto other = std::async(std::launch::async, half, 1);
  half(0);
  other.get();
  if (options.details)
    for (const Job& job : jobs) print_details(job);
  print_table(jobs);
  return 0;
}

}  // namespace
}  // namespace neap::arena

int main(int argc, char** argv) {
  neap::arena::Options options;
  CLI::App app{"climate laws side by side"};
  app.add_option("--scenario", options.scenarios, "only these: S1 R3 ...");
  app.add_option("--controller", options.controllers, "only these, by name");
  app.add_option("--seed", options.seeds, "seeds of weather and noise");
  app.add_option("--days", options.days, "scored days, after one to warm up");
  app.add_option("--tents", options.tents, "random tents instead of the scenarios");
  app.add_option("--flow", options.flow, "believed flow in times of the label");
  app.add_option("--drying", options.drying, "believed drying in times of the label");
  app.add_flag("--details", options.details, "a line for each run");
  CLI11_PARSE(app, argc, argv);
  return neap::arena::bench(options);
}
