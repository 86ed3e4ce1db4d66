// The climate equipment of a simulated tent, and a settings text with other equipment: for runs
// that ask which sizes a tent needs. Both what is true of the tent (simulation.parameters) and what
// its owner believes (tent, climate) are written.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "daemon/settings/settings.h"

namespace neap::settings {

struct Equipment {
  DehumidifierPlace place = DehumidifierPlace::tent;
  std::optional<double> drying_l_per_day;  // at 26.7 C and 60 %; absent: no dehumidifier
  std::optional<double> mist_ml_per_h;     // absent: no humidifier
  double fan_m3_per_h = 150;               // through the filter, at full level
  friend bool operator==(const Equipment&, const Equipment&) = default;
};

// As the settings have it: of the simulated tent, else as the owner believes.
Equipment equipment_of(const Loaded& loaded);

// `text` must load. Faults that the simulation would play are left out.
std::string with_equipment(std::string_view text, const Equipment& equipment);

// Room air, for a tent whose settings drive real devices.
struct RoomAir {
  double celsius = 21;
  double percent = 50;
};

// A text that simulates the tent of these settings in such a room: every output and sensor
// simulated, neap in control. `loaded` is what `text` gives.
std::string with_simulated_tent(const Loaded& loaded, const RoomAir& room);

}  // namespace neap::settings
