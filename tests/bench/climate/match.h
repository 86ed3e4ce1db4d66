// A controller on a scenario's tent for a seed: the bench's unit of work.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "tests/bench/climate/arena.h"
#include "tests/bench/climate/scenarios.h"

namespace neap::arena {

struct Controller {
  std::string name;
  const ClimateLaw* law;
  bool bare;  // without neap's own limits
};
const std::vector<Controller>& controllers();

// What is otherwise than the scenario says.
struct Otherwise {
  Beliefs beliefs;
  bool room_lost = false;  // the room is read no more from the warm-up's end on
};

struct Match {
  Scenario scenario;
  std::uint64_t seed = 0;
  const Controller* controller = nullptr;
  Otherwise otherwise;
  Score score;
};

// The run that a match is. Throws std::runtime_error when its settings are refused.
Run run_of(const Match& match, int days);

// Plays all of them, in two threads. Throws std::runtime_error when a scenario's settings are
// refused.
void play(std::vector<Match>& matches, int days);

}  // namespace neap::arena
