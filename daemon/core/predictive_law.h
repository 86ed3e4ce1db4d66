// The predictive law: an observer (tent_observer.h) works out what the tent gives off and how that
// changes with light and floods, and every 30 s a look-ahead (look_ahead.h) tries each legal move
// of fan, dehumidifier and humidifier over the next twelve minutes and makes the best one's first.
//
// A dehumidifier in the room is too slow for that horizon and is treated apart (room_dryer.h).
//
// The humidifier works in pulses as short as its dwells allow, tried out with the rest: a tent's
// air holds a few grams of vapour, and a minute of mist carries it across half a band.
//
// Room sensor lost: the room is carried on from what the tent has taught (tent_observer.h). No
// other law is better off then, but venting's effect is known less well; `why` says so.
#pragma once

#include "daemon/core/climate.h"
#include "daemon/core/look_ahead.h"

namespace neap {

class PredictiveLaw final : public ClimateLaw {
 public:
  static constexpr std::uint32_t kId = 3;
  explicit PredictiveLaw(const Prices& prices = {}) : prices_(prices) {}
  std::uint32_t id() const override { return kId; }
  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override;

 private:
  Prices prices_;
};

}  // namespace neap
