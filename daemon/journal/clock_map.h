// Ticks to wall time and back, by the spans that the writer keeps in `clock_span`.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "daemon/journal/reader.h"

namespace neap::journal {

struct ClockSpan {
  std::int64_t from_tick = 0;
  std::optional<std::int64_t> ahead_ms;  // unix_ms minus tick; none: wall time not known
  std::int32_t utc_offset_s = 0;
};

class ClockMap {
 public:
  ClockMap() = default;
  explicit ClockMap(std::vector<ClockSpan> spans);  // in order of from_tick

  Stamp stamp(std::int64_t tick) const;
  // The tick at a wall time. Before all that is known and after it the nearest span is carried on;
  // a time at which no daemon ran gives the beginning of the span after it. Where the clock was set
  // back and a time came twice, the later one. None when no wall time is known at all.
  std::optional<std::int64_t> tick_at(std::int64_t unix_ms) const;

 private:
  std::vector<ClockSpan> spans_;
};

}  // namespace neap::journal
