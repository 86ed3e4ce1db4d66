// What the tent's devices can reach: the air settles somewhere for each level of the fan, with the
// dehumidifier, with the humidifier and with neither (tent_model.h, with the sources that the
// observer has found). Where no such air that keeps the temperature limit lies in the band, the
// band is out of reach, and the same model says what would cure it.
//
// All VPD in kPa and of what the band speaks of, air or leaf.
#pragma once

#include <optional>

#include "daemon/core/climate.h"
#include "daemon/core/tent_observer.h"

namespace neap {

// Each by itself would do. Absent: it would not, within what can be bought or a room can be.
struct Cures {
  std::optional<double> drying_g_per_h;  // in the tent, all of it, rated at 26.7 C and 60 %
  std::optional<double> mist_g_per_h;    // likewise
  std::optional<double> room_kelvin;     // by which the room would have to be warmer or cooler
  std::optional<double> room_percent;    // relative humidity of the room as warm as it is
  std::optional<double> fan_m3_per_h;    // at full level
};

struct Reach {
  Binding binding = Binding::nothing;
  double best = 0;  // too humid, too dry: VPD nearest to the band; too warm: the coolest air, C
  Cures cures;
};

// Least and greatest VPD that the air settles at within the temperature limit.
struct Span {
  bool any = false;  // some air keeps the limit
  double least = 0, greatest = 0;
  double coolest_c = 0;  // whatever the limit
};
// `mist` and `drying`: whether those devices may be used, where they are fitted.
Span reachable(const ClimateView& view, const Beliefs& beliefs, const TentEstimate& estimate,
               bool drying, bool mist);

// Needs a room that is read. A dehumidifier in the room that does not run may still change the
// room: then nothing is called too humid. The cures are looked for on demand: that takes a few
// hundred evaluations of the model.
Reach reach(const ClimateView& view, const TentEstimate& estimate, bool with_cures);

}  // namespace neap
