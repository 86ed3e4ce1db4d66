// What the readings of one point within one hour come to: what is kept of them for ever.
#pragma once

#include <algorithm>
#include <cstdint>
#include <optional>
#include <span>

#include "daemon/journal/block.h"

namespace neap::journal {

constexpr bool usable(const PackedReading& reading) {
  return reading.v && quality_of(reading.q) != Quality::bad;
}

struct HourFigures {  // quanta; those of usable readings say something when there are any
  std::int64_t first_tick = 0, last_tick = 0;
  std::int64_t usable = 0, missing = 0;
  std::int64_t lowest = 0, highest = 0;
  double sum = 0;
  std::int64_t newest = 0, newest_tick = 0;
  Quality worst = Quality::good;
  Fault fault = Fault::none;
  bool ended_missing = false;

  // In the order of their ticks. Also parts of hours add up, so that months are added as days are.
  void add(const PackedReading& reading);
  void add(const HourFigures& later);
  bool any() const { return usable + missing > 0; }
};

inline void HourFigures::add(const PackedReading& reading) {
  const std::int64_t tick = tick_of_key(reading.k);
  HourFigures one;
  one.first_tick = one.last_tick = tick;
  one.fault = fault_of(reading.q);
  if (journal::usable(reading)) {
    one.usable = 1;
    one.lowest = one.highest = one.newest = *reading.v;
    one.sum = static_cast<double>(*reading.v);
    one.newest_tick = tick;
    one.worst = quality_of(reading.q);
  } else {
    one.missing = 1;
    one.ended_missing = true;
  }
  add(one);
}

inline void HourFigures::add(const HourFigures& later) {
  if (!later.any()) return;
  if (!any()) first_tick = later.first_tick;
  last_tick = later.last_tick;
  fault = std::max(fault, later.fault);
  ended_missing = later.ended_missing;
  missing += later.missing;
  if (later.usable == 0) return;
  lowest = usable == 0 ? later.lowest : std::min(lowest, later.lowest);
  highest = usable == 0 ? later.highest : std::max(highest, later.highest);
  newest = later.newest;
  newest_tick = later.newest_tick;
  worst = std::min(worst, later.worst);
  sum += later.sum;
  usable += later.usable;
}

inline HourFigures figures_of(std::span<const PackedReading> readings) {
  HourFigures figures;
  for (const PackedReading& reading : readings) figures.add(reading);
  return figures;
}

}  // namespace neap::journal
