// A simulated tent's days as a journal would have them, beside the truth: for the campaign that
// judges daemon/identify.
#pragma once

#include <cstdint>

#include "daemon/core/climate.h"
#include "daemon/identify/identify.h"

namespace neap::arena {

struct RecordedTruth {
  double flow_full = 0, flow_mean = 0;  // m3/h, at the record's mean warmth over the room
  double lit_g_per_h = 0, dark_g_per_h = 0, litres_a_day = 0;
  double drying_l_per_day = 0;  // rated
  double mist_g_per_h = 0;
  double lag_s = 0;
};

struct Recorded {
  identify::Record record;
  neap::Beliefs labels;  // as the owner has them
  identify::Fitted fitted;
  RecordedTruth truth;
};

// The random tent of that number (scenarios.h) under `law` after half a day of warming up. Its
// probes agree: what a comparison of the two has shown stands in their settings' offsets. With
// `tests` a person asks for a step test of the fan and one of the dehumidifier each ten minutes
// until each has run whole, or has been cut short three times.
Recorded record_tent(std::uint64_t number, const ClimateLaw& law, int days, bool tests);

}  // namespace neap::arena
