#include "daemon/client/marked.h"

#include <algorithm>

#include "daemon/core/limits.h"

namespace neap::client {
namespace {

// The daemon notes a contact that says the same every 5 min (shell/notes.h); a minute for a scan
// that comes late (choice).
constexpr Millis kContactHeld = minutes{6};

}  // namespace

Point source_of(Point point) {
  switch (info(point).kind) {
    case PointKind::analog:
    case PointKind::contact:
      return point;
    case PointKind::derived:
      return point == Point::room_vpd || point == Point::room_dew_point ? Point::room_humidity
                                                                        : Point::canopy_humidity;
  }
  return point;
}

Millis held(const Plan& plan, Point point) {
  const auto& of = plan.points[source_of(point)];
  const Millis usual = of ? std::max(of->bad_after, limits::kBadAfter) : limits::kBadAfter;
  return info(point).kind == PointKind::contact ? std::max(usual, kContactHeld) : usual;
}

std::optional<std::int64_t> local_ms_of(const journal::Stamp& stamp) {
  if (!stamp.unix_ms) return std::nullopt;
  return *stamp.unix_ms + stamp.utc_offset_s * std::int64_t{1000};
}

std::vector<Stretch> floods_of(journal::Reader& reader, Stretch span) {
  std::vector<Stretch> floods;
  for (const journal::CycleEntry& cycle : reader.cycles({span.from, span.to})) {
    const Millis length = cycle.row.fill + cycle.row.soak + cycle.row.drain;
    const std::int64_t start = cycle.started.tick;
    if (length > Millis{0}) floods.push_back({start, std::min(start + length.count(), span.to)});
  }
  return floods;
}

Stretch stretch_of(const journal::AlarmSpan& alarm, Stretch span) {
  return {std::max(alarm.raised.tick, span.from),
          alarm.cleared ? std::min(alarm.cleared->tick, span.to) : span.to};
}

}  // namespace neap::client
