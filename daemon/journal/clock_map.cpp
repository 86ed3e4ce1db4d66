#include "daemon/journal/clock_map.h"

#include <algorithm>

namespace neap::journal {

ClockMap::ClockMap(std::vector<ClockSpan> spans) : spans_(std::move(spans)) {}

Stamp ClockMap::stamp(std::int64_t tick) const {
  Stamp made{tick, std::nullopt, 0};
  const auto after = std::upper_bound(
      spans_.begin(), spans_.end(), tick,
      [](std::int64_t wanted, const ClockSpan& span) { return wanted < span.from_tick; });
  if (after == spans_.begin()) return made;
  const ClockSpan& span = *std::prev(after);
  if (span.ahead_ms) {
    made.unix_ms = tick + *span.ahead_ms;
    made.utc_offset_s = span.utc_offset_s;
  }
  return made;
}

std::optional<std::int64_t> ClockMap::tick_at(std::int64_t unix_ms) const {
  std::optional<std::int64_t> before_all;
  for (std::size_t i = spans_.size(); i-- > 0;) {
    const ClockSpan& span = spans_[i];
    if (!span.ahead_ms) continue;
    const std::int64_t tick = unix_ms - *span.ahead_ms;
    if (tick >= span.from_tick)
      return i + 1 < spans_.size() ? std::min(tick, spans_[i + 1].from_tick) : tick;
    before_all = tick;
  }
  return before_all;
}

}  // namespace neap::journal
