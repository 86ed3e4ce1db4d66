// The tents and rooms that climate laws are compared in. A scenario is settings text: what the
// owner believes of the tent stands in `tent:` and `climate:`, what is true stands in
// `simulation.parameters`, and the two differ where it says so.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/settings/settings.h"

namespace neap::arena {

enum class Group : std::uint8_t {
  ten,         // S1..S10 of the design study, in our own tent
  infeasible,  // S11, S12: the equipment that the band needs is not there
  own,         // what the ten leave out
  random,      // drawn, never tuned on
};

struct Scenario {
  std::string id;
  std::string what;
  Group group = Group::ten;
  bool equipped = true;  // false: out of reach on purpose
  struct Believed {      // by the owner, as labels say
    double tent_m3 = 1.9;
    double flow_m3_per_h = 150;
    bool dehumidifier_in_room = false;
    double drying_l_per_day = 3.5;
    double mist_ml_per_h = 250;
    bool leaf_band = false;
    bool peltier = false;
  } believed;
  std::string stage;       // lines of the one stage
  std::string outputs;     // lines of `outputs:` besides pump, light, circulation fan
  std::string quiet;       // quiet_hours, or nothing
  std::string parameters;  // lines of `simulation.parameters`
};

std::span<const Scenario> scenarios();
const Scenario* find_scenario(std::string_view id);

// A tent, light, room, equipment and sensors drawn from `number`, its owner's beliefs wrong by up
// to 25 %.
Scenario random_tent(std::uint64_t number);

// The settings of a scenario. `beliefs` scales what the owner thinks of the fan's flow and of the
// dehumidifier's capacity.
struct Beliefs {
  double flow = 1;
  double drying = 1;
};
std::string settings_text(const Scenario& scenario, std::uint64_t seed,
                          const Beliefs& beliefs = {});

}  // namespace neap::arena
