#include "tests/bench/climate/variations.h"

#include <cstdio>

#include "daemon/core/predictive_law.h"
#include "tests/bench/climate/bounds.h"
#include "tests/bench/climate/match.h"

namespace neap::arena {
namespace {

struct Variation {
  const char* name;
  Otherwise otherwise;
  Prices prices;
};

const Variation kVariations[] = {
    {"as it is", {}, {}},
    {"flow believed x 0.7", {{0.7, 1}, false}, {}},
    {"flow believed x 1.4", {{1.4, 1}, false}, {}},
    {"drying believed x 0.6", {{1, 0.6}, false}, {}},
    {"drying believed x 1.5", {{1, 1.5}, false}, {}},
    {"room sensor lost", {{1, 1}, true}, {}},
    {"price of a start x 0.3", {}, {0.04, 0.4}},
    {"price of a start x 2", {}, {0.04, 2.6}},
    {"price of a start x 4", {}, {0.04, 5.2}},
    {"price of energy x 0.1", {}, {0.004, 1.3}},
    {"price of energy x 4", {}, {0.16, 1.3}},
    {"price of energy x 16", {}, {0.64, 1.3}},
};

struct Totals {
  double in = 0, starts = 0, kwh = 0;
  int count = 0;
  void add(const Score& s) {
    in += s.in_band;
    starts += s.starts_d;
    kwh += s.kwh_d;
    ++count;
  }
  void print(const char* name) const {
    std::printf("%-24s %6.1f %8.1f %7.2f\n", name, in / count, starts / count, kwh / count);
    std::fflush(stdout);
  }
};

}  // namespace

int print_variations(const std::vector<std::uint64_t>& seeds, int days, const std::string& file) {
  std::printf("the ten under the predictive law\n%-24s %6s %8s %7s\n", "", "in %", "starts/d",
              "kWh/d");
  for (const Variation& variation : kVariations) {
    const PredictiveLaw law(variation.prices);
    const Controller controller{"predictive", &law, false};
    std::vector<Match> matches;
    for (const Scenario& row : scenarios())
      for (const std::uint64_t seed : seeds)
        if (row.group == Group::ten)
          matches.push_back({row, seed, &controller, variation.otherwise, {}});
    play(matches, days);
    Totals totals;
    for (const Match& match : matches) totals.add(match.score);
    totals.print(variation.name);
  }
  const Bounds bounds = Bounds::read(file);
  Totals best;
  for (const Scenario& row : scenarios())
    for (const std::uint64_t seed : seeds)
      if (row.group == Group::ten)
        if (const auto bound = bounds.find(row, seed, days)) best.add(*bound);
  if (best.count > 0) best.print("clairvoyant");
  return 0;
}

}  // namespace neap::arena
