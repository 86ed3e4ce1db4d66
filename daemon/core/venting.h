// What exhaust can and cannot do, from the readings in the tent and in the room. A planted tent is
// a vapour source, so venting usually dries; it moistens where heat matters more than vapour
// (seedlings under strong light) and while a dehumidifier in the tent has made it drier than the
// room.
#pragma once

#include <optional>

#include "daemon/core/climate.h"
#include "daemon/core/units.h"

namespace neap {

// The fan's levels between which a loop chooses: floor and ceiling of a variable fan, stopped and
// running of a two-position one (stopped where quiet hours leave it nothing).
Permille most_venting(const LegalMove& fan);
Permille least_venting(const LegalMove& fan);

// Gain of VPD in kPa per unit of ln(air flow), from the steady balances of vapour and heat:
//   g = (e_tent - e_room) - kappa s (T_tent - T_room),  kappa = G / (G + UA),
// e vapour pressure, s slope of the saturation curve (FAO-56 eq. 13), G = rho cp Q at half of the
// fan's full flow, UA = 25 W/K of tent wall (an assumption; the sign hardly depends on it).
// Positive: venting dries. Absent without all four readings.
std::optional<double> venting_gain(const ClimateView& view);

// Whether venting moistens, with hysteresis: from a gain under -0.04 until it is positive again.
// Without room readings it never does: a planted tent is a vapour source.
bool venting_moistens(const std::optional<double>& gain, bool moistened_before);

// Whether more air from the room cools the canopy; a room that is not read is taken to. Needs the
// canopy's temperature.
bool room_would_cool(const ClimateView& view);

// The VPD that full exhaust approaches in the dark: 0.9 of the room's (0.88 to 0.92 over rooms of
// 15..30 C and 25..85 %, simulated; no published source). Absent in the light, where lamp heat
// decides, and without room readings. A band of the leaf shifts it by leaf minus air VPD.
std::optional<Kilopascal> reachable_by_venting(const ClimateView& view);

}  // namespace neap
