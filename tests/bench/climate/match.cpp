#include "tests/bench/climate/match.h"

#include <future>

#include "daemon/core/predictive_law.h"
#include "daemon/core/rule_law.h"
#include "daemon/core/two_position_law.h"
#include "tests/bench/climate/baselines.h"
#include "tests/bench/climate/bounds.h"

namespace neap::arena {
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

Run run_of(const Match& match, int days) {
  Run run;
  run.settings = load(match.scenario, match.seed, match.otherwise.beliefs);
  run.law = match.controller->law;
  run.bare = match.controller->bare;
  run.room_lost = match.otherwise.room_lost;
  run.days = days;
  return run;
}

void play(std::vector<Match>& matches, int days) {
  const auto half = [&](std::size_t first) {
    for (std::size_t i = first; i < matches.size(); i += 2)
      matches[i].score = arena::run(run_of(matches[i], days));
  };
  auto other = std::async(std::launch::async, half, 1);
  half(0);
  other.get();
}

}  // namespace neap::arena
