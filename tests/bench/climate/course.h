// What a clairvoyant knows beforehand of a run: bands, day and night, quiet hours, and every change
// of the outputs that no climate law moves (pump, light, circulation fan).
#pragma once

#include <cstdint>
#include <vector>

#include "daemon/core/outputs.h"
#include "daemon/core/plan.h"
#include "daemon/settings/settings.h"

namespace neap::arena {

struct Course {
  struct Step {  // each 10 s
    Band band;
    bool day = false;
  };
  struct Change {
    std::int64_t second = 0;  // since the start; it acts from the step that begins then
    Output output = Output::pump;
    Permille level;
  };
  std::vector<Step> steps;
  std::vector<bool> quiet;  // each minute
  std::vector<Change> changes;
};

// As the programme runs under the two-position law: floods, light and bands do not depend on which
// law keeps the air, unless the air grows so warm that the light is shed.
Course foresee(const settings::Loaded& settings, int days);

}  // namespace neap::arena
