// Readings of a journal as the stretches of time over which they stood, and the VPD that the band
// speaks of beside the band of its own time.
#pragma once

#include <cstdint>
#include <functional>

#include "daemon/core/plan.h"
#include "daemon/journal/reader.h"

namespace neap::client {

// Calls `take(row, span)` with each usable value of `point` and the part of [from, to], in ticks,
// over which it stood: until the next one, and never longer than a value may.
void each_held(journal::Reader& reader, Point point, std::int64_t from, std::int64_t to,
               const std::function<void(const journal::ReadingRow&, Millis)>& take);

struct BandedReading {
  const journal::ReadingRow& row;  // of air or leaf VPD, with a value and a wall time
  Millis stood{0};
  Band band;         // kPa
  bool day = false;  // light time of a stage that is not fallow
  // kPa; 0 inside, below the band negative
  double beyond() const;
};

// Air is judged by the settings that were in force at the time, not by those of today. What the
// journal no longer has, or what this version cannot read, is judged by `plan`.
void each_banded(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to,
                 const std::function<void(const BandedReading&)>& take);

}  // namespace neap::client
