// climate_bench: climate laws side by side over scenarios and seeds, in two threads.
#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdio>
#include <fstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "tests/bench/climate/bounds.h"
#include "tests/bench/climate/match.h"
#include "tests/bench/climate/portrait.h"
#include "tests/bench/climate/tables.h"
#include "tests/bench/climate/variations.h"

namespace neap::arena {
namespace {

struct Options {
  std::vector<std::string> scenarios, controllers;
  std::vector<std::uint64_t> seeds{201, 202};
  int days = 2, tents = 0;
  Otherwise otherwise;
  bool details = false;
  bool bound = false;
  bool variations = false;
  std::string svg;
  std::string bounds_file = "tests/bench/climate/bounds.txt";
};

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

std::vector<Match> matches_of(const Options& options) {
  std::vector<Match> matches;
  for (const Scenario& row : scenarios_of(options))
    for (const std::uint64_t seed : options.seeds)
      for (const Controller& c : controllers())
        if (chosen(options.controllers, c.name))
          matches.push_back({row, seed, &c, options.otherwise, {}});
  return matches;
}

int draw(std::vector<Match>& matches, const Options& options) {
  if (matches.size() != 1)
    throw std::runtime_error("--svg wants one scenario, one seed and one controller; these are " +
                             std::to_string(matches.size()) + " runs");
  std::ofstream file(options.svg);
  file << portrait(matches.front(), options.days);
  if (!file.flush()) throw std::runtime_error(options.svg + " cannot be written");
  print_details(matches.front());
  return 0;
}

int bench(const Options& options) {
  std::vector<Match> matches = matches_of(options);
  if (!options.svg.empty()) return draw(matches, options);
  play(matches, options.days);
  if (options.details)
    for (const Match& match : matches) print_details(match);
  print_table(matches, options.days, Bounds::read(options.bounds_file));
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
  app.add_option("--flow", options.otherwise.beliefs.flow, "believed flow in times of the label");
  app.add_option("--drying", options.otherwise.beliefs.drying,
                 "believed drying in times of the label");
  app.add_flag("--room-lost", options.otherwise.room_lost, "no room reading after the warm-up");
  app.add_flag("--variations", options.variations,
               "the predictive law on the ten with wrong beliefs, without a room sensor, and with "
               "other prices of starts and energy");
  app.add_option("--svg", options.svg,
                 "draw the last day of the one scenario, seed and controller that are given");
  app.add_flag("--details", options.details, "a line for each run");
  app.add_flag("--bound", options.bound,
               "compute what the file of bounds does not hold, or holds for something else");
  app.add_option("--bounds-file", options.bounds_file, "the clairvoyant's stored scores");
  CLI11_PARSE(app, argc, argv);
  try {
    if (options.bound)
      return neap::arena::compute_bounds(neap::arena::scenarios_of(options), options.seeds,
                                         options.days, options.bounds_file);
    if (options.variations)
      return neap::arena::print_variations(options.seeds, options.days, options.bounds_file);
    return neap::arena::bench(options);
  } catch (const std::runtime_error& error) {
    std::fprintf(stderr, "climate_bench: %s\n", error.what());
    return 1;
  }
}
