// The clairvoyant's scores, computed once and stored: each is only good for the plant, scenario and
// seed that it was computed for.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/settings/settings.h"
#include "tests/bench/climate/arena.h"
#include "tests/bench/climate/scenarios.h"

namespace neap::arena {

// Of everything that a bound depends on: how the scenario's plant behaves over six hours of fixed
// outputs (its code, parameters and weather by that, to five digits), bands and floods, devices,
// and the version of the search. What the owner believes of the tent is no part of it.
std::uint64_t bound_key(const Scenario& scenario, std::uint64_t seed, int days);

// The settings of a scenario as the owner believes it. Throws std::runtime_error with the loader's
// own messages when they are refused.
settings::Loaded load(const Scenario& scenario, std::uint64_t seed, const Beliefs& beliefs = {});

struct Bound {
  std::string scenario;
  std::uint64_t seed = 0;
  int days = 0;  // scored, after one to warm up
  std::uint64_t key = 0;
  Score score;
};

class Bounds {
 public:
  // No file: no bounds. A line that cannot be read throws std::runtime_error with file and line.
  static Bounds read(const std::string& path);
  void write(const std::string& path) const;

  // None when it is not stored. Throws std::runtime_error when it is, but for another plant,
  // scenario or search: a ratio to it would mean nothing.
  std::optional<Score> find(const Scenario& scenario, std::uint64_t seed, int days) const;
  bool holds(const Scenario& scenario, std::uint64_t seed, int days) const;  // and is good
  void put(Bound bound);  // in the place of an older one

 private:
  const Bound* row(const std::string& scenario, std::uint64_t seed, int days) const;

  std::vector<Bound> rows_;
};

// Computes what `path` does not hold, or holds for something else, and stores each when it is done.
int compute_bounds(std::span<const Scenario> scenarios, std::span<const std::uint64_t> seeds,
                   int days, const std::string& path);

}  // namespace neap::arena
