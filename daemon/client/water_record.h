// The journal as daemon/solution wants it: level by the minute, floods with what the air asked
// before them, and the times of floods.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

#include "daemon/core/plan.h"
#include "daemon/journal/reader.h"
#include "daemon/solution/trends.h"
#include "daemon/solution/water_balance.h"

namespace neap::client {

// What `neap service clean` writes beside what was measured at its end.
constexpr std::string_view kCleanedNote = "service clean";
// The part of `neap care` that it has seen to.
constexpr std::string_view kCleanedPart = "strainer";

// Ticks and the hours that records count from: local midnight before the record begins.
struct HourScale {
  std::int64_t origin_tick = 0;
  double hours(std::int64_t tick) const {
    return static_cast<double>(tick - origin_tick) / 3'600'000;
  }
  std::int64_t tick(double hours) const {
    return origin_tick + static_cast<std::int64_t>(hours * 3'600'000);
  }
};
HourScale hour_scale(journal::Reader& reader, std::int64_t from);

solution::WaterRecord water_record(journal::Reader& reader, const HourScale& scale,
                                   std::int64_t from, std::int64_t to);

// Complete floods as deep as the newest ones: a stage with shallow floods fills and drains sooner.
struct FloodTimes {
  std::vector<solution::Timed> fill;
  std::vector<solution::Timed> drain;
};
// `levels`: of the span that has them; older floods have none beside them.
FloodTimes flood_times(const std::vector<journal::CycleEntry>& cycles, const HourScale& scale,
                       const std::vector<solution::Level>& levels);

// Cleanings and commissionings, ascending: of the diary the care of the strainer, which is what
// slows a fill; of the hand measurements those of `neap service clean`, which older journals have
// instead, and of commission's walk.
std::vector<solution::Renewal> renewals(const std::vector<journal::MeasurementRow>& measured,
                                        const std::vector<journal::DiaryRow>& diary,
                                        const HourScale& scale);

}  // namespace neap::client
