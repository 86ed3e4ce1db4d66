// The reservoir's balance while no water is moved: a slow leak, told by how the level falls.
//
// Between floods the plants drink from the medium, not from the reservoir. Once the tray has run
// empty the level stands still but for what evaporates past the lid, so that the slope of a line
// through it has an absolute zero and needs no estimate of what the plants drink. Each window of
// standing water gives a slope; what exceeds evaporation, in units of what a level sensor wanders
// by itself, is added up over the windows (a one-sided CUSUM). A leak that runs only while the pump
// does is not seen here: floods have proofs of their own (flood_proof.h).
//
// With a sensor that wanders by a thousandth of its reservoir and floods by day only, 0.1 L/h is
// found within two days, 0.2 L/h within one, 1 L/h within three hours and a half of standing water,
// and nothing under 0.03 L/h (tests/core/balance_test.cpp).
#pragma once

#include <optional>

#include "daemon/core/instant.h"
#include "daemon/core/plan.h"
#include "daemon/core/reading.h"
#include "daemon/core/units.h"

namespace neap {

// What is kept over a restart.
struct WaterBalance {
  double score = 0;    // the evidence for a leak, in standard deviations
  double l_per_h = 0;  // mean fall of the windows since the score was last nothing
  double hours = 0;    // the length of those
};

// The window under way: sums over its readings, hours and litres from the first one on.
struct IdleWindow {
  std::optional<Instant> still_from;  // as told, see follow_balance
  Instant began{};                    // first reading
  Instant newest{};                   // latest reading
  double first_l = 0;
  double n = 0, t = 0, v = 0, tt = 0, tv = 0, vv = 0;
  bool above = false;  // the latest reading stood as high as if water had been poured in
  bool service = false;
};

// The medium drips for this long after a flood ("wait 75 min": an own simulation of flood and
// drain).
constexpr Millis kDrainDown = minutes{75};

// Takes one scan's level. `still_from`: since when the pump has stood, and nobody worked at the
// tent or knew of a leak (StillWater::from). The end of a declared service gives whoever mended the
// leak the benefit of the doubt: half of the score goes.
void follow_balance(const TablePlan& table, WaterBalance& balance, IdleWindow& window,
                    std::optional<Instant> still_from, const Reading<Litres>& reservoir,
                    bool service);

bool slow_leak(const WaterBalance& balance);

}  // namespace neap
