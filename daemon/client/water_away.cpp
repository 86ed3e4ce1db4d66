#include "daemon/client/water_away.h"

#include <algorithm>
#include <limits>

#include "daemon/solution/water_balance.h"

namespace neap::client {
namespace {

constexpr std::int64_t kDayMs = Millis{hours{24}}.count();
constexpr int kMostRows = 20'000;
constexpr auto kDripMs = static_cast<std::int64_t>(solution::kDripHours * 3'600'000);

}  // namespace

WaterAway::WaterAway(journal::Reader& reader, std::int64_t from) {
  for (const journal::CycleEntry& cycle : reader.cycles({from - kDayMs, std::nullopt})) {
    const Millis wet = cycle.row.fill + cycle.row.soak + cycle.row.drain;
    spans_.push_back({cycle.started.tick, cycle.started.tick + wet.count() + kDripMs});
  }
  bool wet = false;  // in a flood, which may have no row yet
  std::int64_t since = 0;
  for (const auto& row :
       reader.events({from - kDayMs, std::nullopt}, {EventKind::flood_phase}, kMostRows)) {
    const FloodPhase phase = row.event.phase;
    if (phase != FloodPhase::idle && phase != FloodPhase::rest) {
      if (!wet) since = row.at.tick;
      wet = true;
    } else if (wet) {
      spans_.push_back({since, row.at.tick + kDripMs});
      wet = false;
    }
  }
  if (wet) spans_.push_back({since, std::numeric_limits<std::int64_t>::max()});
}

bool WaterAway::at(std::int64_t tick) const {
  return std::any_of(spans_.begin(), spans_.end(),
                     [&](const auto& span) { return span.first <= tick && tick <= span.second; });
}

}  // namespace neap::client
