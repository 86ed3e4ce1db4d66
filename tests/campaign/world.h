// One seed, one world: settings that a user could have, a tent, the week's weather, and everything
// that happens in it, drawn before the run so that it can be printed and played again.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/event.h"
#include "daemon/core/request.h"
#include "daemon/settings/settings.h"
#include "drivers/simulated/faults.h"

namespace neap::campaign {

enum class Act : std::uint8_t {
  fault_begins,
  fault_ends,
  power_cut,  // relays fall; `number` ms until the board is back
  kill,       // the process dies, pins stay for `number` ms, until it starts again
  wall_step,  // by `number` ms
  time_lost,  // wall clock quality
  time_back,
  card_fails,  // the state file takes no writes
  card_heals,
  contacts_lost,  // floats are read no more, nor anything else unless `number` is 1
  contacts_back,
  all_lost,  // every sensor
  all_back,
  // A power cut, and sectors of the state file are gone: of both slots when `number` is even, or of
  // one.
  state_rots,
  settings_change,  // to the other settings, or back
  button_down,      // somebody presses the one at the tent
  button_up,
  request,
};

struct Happening {
  std::int64_t at_s = 0;
  Act act = Act::request;
  drivers::simulated::TentFault fault{};
  double severity = 1;
  std::int64_t number = 0;
  std::optional<std::int64_t>
      after_pump_ms;  // not at once, but so long after the pump's next start
  Request request;
};

struct World {
  std::uint64_t seed = 0;
  std::string text;
  settings::Loaded settings;
  settings::Loaded changed;  // the same hardware with another grow plan
  std::int64_t start_unix_ms = 0;
  bool calm = false;              // nothing goes wrong and nobody meddles
  std::vector<Happening> script;  // in order of time
  std::int64_t heals_s = 0;       // from then on nothing goes wrong any more
  std::int64_t ends_s = 0;
};

// Throws std::runtime_error with the loader's words when the drawn settings are refused: a defect
// of the campaign. `calm_only`: the same tent in a week in which nothing happens.
World make_world(std::uint64_t seed, bool calm_only = false);

std::string told(const Happening& happening);
std::string told(const Event& event, double at_s);

}  // namespace neap::campaign
