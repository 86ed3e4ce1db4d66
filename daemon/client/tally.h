// The figures of a stretch of journal that the daemon has not summed up itself: the photoperiod
// that is not over yet, or a span that begins in the middle of one. Counted from readings,
// actuations and flood cycles with the same rules as daemon/core/tally.
#pragma once

#include "daemon/core/plan.h"
#include "daemon/journal/reader.h"

namespace neap::client {

DayTally tally_of(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to);
// How long a point read over `limit`.
Millis time_over(journal::Reader& reader, Point point, double limit, std::int64_t from,
                 std::int64_t to);
void add(DayTally& sum, const DayTally& part);  // keeps the date and beginning of `sum`

}  // namespace neap::client
