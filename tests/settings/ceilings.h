// What no accepted settings may break, read from the plan and the hardware alone: an oracle that
// shares the figures of daemon/core/limits.h with the loader and none of its rules.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "daemon/settings/settings.h"

namespace neap::settings {

struct Breach {
  std::string_view ceiling;  // what must hold, as in ceiling_names()
  std::string where;         // "" for the table, else the stage, output, point or sensor
};

// Every ceiling that these settings break; empty for sound ones.
std::vector<Breach> breaches(const Plan& plan, const drivers::Hardware& hardware);

// Each thing that breaches() looks at, by its name.
std::vector<std::string_view> ceiling_names();

}  // namespace neap::settings
