// A dehumidifier in the room dries the tent through the room's air, in tens of minutes: too slow
// for any law's minutes. It starts when nearly full venting is needed for a quarter of the band, or
// the band has been lost below for 90 s, and stops when a gentle fan would keep its upper part, or
// the band has been lost above.
#pragma once

#include "daemon/core/climate.h"
#include "daemon/core/tent_observer.h"

namespace neap {

// A law's memory of it: Memo derives from this.
struct RoomDryer {
  bool dehumidify = false;
  bool suspect = false;  // it should change since `suspected`
  double need = 0;       // part of the fan's range for the goal; above 1: out of its reach
  Instant suspected{};
  Instant changed{};
};

// At each decision. `shift_kpa`: leaf minus air VPD where the band is of the leaf.
void decide_room_dryer(const ClimateView& view, const TentEstimate& estimate, double shift_kpa,
                       RoomDryer& dryer);

// What it wishes and why.
Wish room_dryer_wish(const RoomDryer& dryer);

}  // namespace neap
