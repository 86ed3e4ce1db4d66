// climate_bench: climate laws side by side over scenarios and seeds, in two processes at most.
#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdio>
#include <future>
#include <map>
#include <numeric>
#include <stdexcept>
#include <string>
#include <vector>

#include "daemon/core/predictive_law.h"
#include "daemon/core/rule_law.h"
#include "daemon/core/two_position_law.h"
#include "tests/bench/climate/arena.h"
#include "tests/bench/climate/baselines.h"
#include "tests/bench/climate/bounds.h"
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
  static const RuleLaw rule;
  static const std::vector<Controller> all{
      {"fan 25 %", &quarter, true},
      {"fan 40 %", &forty, true},
      {"thermostat", &thermostat, true},
      {"humidistat", &humidistat, true},
      {"PI on VPD", &pi, true},
      {"two position", &two_position, false},
      {"rule", &rule, false},
      {"predictive", &predictive, false},
  };
  return all;
}

struct Options {
  std::vector<std::string> scenarios, controllers;
  std::vector<std::uint64_t> seeds{201, 202};
  int days = 2, tents = 0;
  double flow = 1, drying = 1;
  bool details = false;
  bool bound = false;
  std::string bounds_file = "tests/bench/climate/bounds.txt";
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

double mean_of(const std::vector<float>& values) {
  return values.empty() ? 0
                        : std::accumulate(values.begin(), values.end(), 0.0) /
                              static_cast<double>(values.size());
}

double quantile_of(std::vector<float> values, double part) {
  if (values.empty()) return 0;
  const auto at =
      values.begin() + static_cast<std::ptrdiff_t>(part * static_cast<double>(values.size() - 1));
  std::nth_element(values.begin(), at, values.end());
  return *at;
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
      mean_of(s.decisions_us), quantile_of(s.decisions_us, 0.99));
}

// Means over the jobs of one scenario, or of a group of them, under one controller.
struct Mean {
  int count = 0;
  double in = 0, day = 0, night = 0, starts = 0, moves = 0, kwh = 0, over_85 = 0, hot = 0;
  double recovery = 0, out = 0;
  int illegal = 0;

  void add(const Score& s) {
    ++count;
    in += s.in_band;
    day += s.in_band_day;
    night += s.in_band_night;
    starts += s.starts_d;
    moves += s.fan_moves_d;
    kwh += s.kwh_d;
    over_85 += s.humid_h_d;
    hot += s.temperature_h_d;
    recovery += s.flood_recovery_min;
    out += s.out_kpa_h_d;
    illegal += s.illegal;
  }
  double of(double sum) const { return count > 0 ? sum / count : 0; }
};

constexpr const char* kBound = "clairvoyant";

std::vector<std::string> columns_of(const std::vector<Job>& jobs, bool bounded) {
  std::vector<std::string> names;
  for (const Controller& c : controllers())
    if (std::any_of(jobs.begin(), jobs.end(), [&](const Job& j) { return j.controller == &c; }))
      names.push_back(c.name);
  if (bounded) names.emplace_back(kBound);
  return names;
}

using Means = std::map<std::string, Mean>;  // by controller

void print_row(const std::string& title, const std::vector<std::string>& columns, Means& means) {
  std::printf("%-12s", title.c_str());
  for (const std::string& name : columns) std::printf(" %12.1f", means[name].of(means[name].in));
  std::printf("\n");
}

void print_summary(const std::string& title, const std::vector<std::string>& columns,
                   Means& means) {
  std::printf("\n%s\n%-12s %6s %6s %6s %6s %7s %6s %6s %6s %6s %6s %7s\n", title.c_str(), "",
              "in %", "ratio", "day", "night", "starts", "moves", "kWh/d", ">85 h", "T h", "flood",
              "illegal");
  const Mean bound = means[kBound];
  for (const std::string& name : columns) {
    const Mean& m = means[name];
    const double ratio = bound.in > 0 ? m.of(m.in) / bound.of(bound.in) : 0;
    std::printf("%-12s %6.1f %6.3f %6.1f %6.1f %7.1f %6.0f %6.2f %6.2f %6.2f %6.1f %7d\n",
                name.c_str(), m.of(m.in), ratio, m.of(m.day), m.of(m.night), m.of(m.starts),
                m.of(m.moves), m.of(m.kwh), m.of(m.over_85), m.of(m.hot), m.of(m.recovery),
                m.illegal);
  }
}

// Scenarios by rows, then what each controller costs, for the ten and for the others apart. The
// bound stands where it is stored for all that was played.
void print_table(const std::vector<Job>& jobs, const Options& options) {
  const Bounds bounds = Bounds::read(options.bounds_file);
  std::vector<std::string> order;
  std::map<std::string, Means> rows;
  std::map<Group, Means> groups;
  bool bounded = true;
  for (const Job& job : jobs) {
    const bool first = rows.find(job.scenario.id) == rows.end();
    if (first) order.push_back(job.scenario.id);
    rows[job.scenario.id][job.controller->name].add(job.score);
    groups[job.scenario.group][job.controller->name].add(job.score);
    if (job.controller != jobs.front().controller) continue;
    const auto bound = bounds.find(job.scenario, job.seed, options.days);
    bounded = bounded && bound.has_value();
    if (!bound) continue;
    rows[job.scenario.id][kBound].add(*bound);
    groups[job.scenario.group][kBound].add(*bound);
  }
  const auto columns = columns_of(jobs, bounded);
  std::printf("%% of time in band\n%-12s", "");
  for (const std::string& name : columns) std::printf(" %12s", name.c_str());
  std::printf("\n");
  for (const std::string& id : order) print_row(id, columns, rows[id]);
  const std::map<Group, std::string> titles{
      {Group::ten, "the ten"},
      {Group::infeasible, "out of reach on purpose"},
      {Group::own, "what the ten leave out"},
      {Group::random, "random tents"},
  };
  for (auto& [group, means] : groups) print_summary(titles.at(group), columns, means);
}

bool chosen(const std::vector<std::string>& names, const std::string& name) {
  return names.empty() || std::find(names.begin(), names.end(), name) != names.end();
}

std::vector<Scenario> scenarios_of(const Options& options) {
  std::vector<Scenario> rows;
  if (options.tents == 0)
    for (const Scenario& row : scenarios())
      if (chosen(options.scenarios, row.id)) rows.push_back(row);
  for (int i = 1; i <= options.tents; ++i)
    rows.push_back(random_tent(static_cast<std::uint64_t>(i)));
  return rows;
}

std::vector<Job> jobs_of(const Options& options) {
  std::vector<Job> jobs;
  for (const Scenario& row : scenarios_of(options))
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
  print_table(jobs, options);
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
  app.add_flag("--bound", options.bound,
               "compute what the file of bounds does not hold, or holds for something else");
  app.add_option("--bounds-file", options.bounds_file, "the clairvoyant's stored scores");
  CLI11_PARSE(app, argc, argv);
  try {
    if (options.bound)
      return neap::arena::compute_bounds(neap::arena::scenarios_of(options), options.seeds,
                                         options.days, options.bounds_file);
    return neap::arena::bench(options);
  } catch (const std::runtime_error& error) {
    std::fprintf(stderr, "climate_bench: %s\n", error.what());
    return 1;
  }
}
