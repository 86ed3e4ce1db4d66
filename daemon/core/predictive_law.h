// The predictive law: an observer (tent_observer.h) works out what the tent gives off and how that
// changes with light and floods, and every 30 s a look-ahead (look_ahead.h) tries each legal move
// of fan, dehumidifier and humidifier over the next twelve minutes and makes the best one's first.
//
// A dehumidifier in the room is too slow for that horizon and is treated apart: it starts when
// nearly full venting is needed for the middle of the band, or the band has been lost below for
// 90 s, and stops when a gentle fan would do.
//
// The humidifier is time-proportioned: a duty over two minutes, in pulses it can make.
//
// Room sensor lost: the room is carried on from what the tent has taught (tent_observer.h). No
// other law is better off then, but venting's effect is known less well; `why` says so.
#pragma once

#include "daemon/core/climate.h"

namespace neap {

class PredictiveLaw final : public ClimateLaw {
 public:
  static constexpr std::uint32_t kId = 3;
  std::uint32_t id() const override { return kId; }
  ClimateAsk decide(const ClimateView& view, LawMemory& memory) const override;
};

}  // namespace neap
