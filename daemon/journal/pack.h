// How the journal packs a reading, and which columns of `event` speak about which kind. Shared by
// the writing and the reading side, so that the two cannot drift apart.
#pragma once

#include <array>
#include <cmath>
#include <cstdint>
#include <optional>

#include "daemon/core/event.h"
#include "daemon/core/points.h"
#include "daemon/core/reading.h"
#include "daemon/journal/journal.h"

namespace neap::journal {

constexpr std::int64_t kPointsInKey = 256;  // k = tick * 256 + point

constexpr std::int64_t key_of(std::int64_t tick, Point point) {
  return tick * kPointsInKey + static_cast<std::int64_t>(point);
}
// First key of a tick; readings of [from, to] have keys in [first_key(from), first_key(to + 1) -
// 1]. Ticks beyond what a key can hold (a span's far end) stop at its limits.
constexpr std::int64_t kFurthestTick = (std::int64_t{1} << 54) - 1;
constexpr std::int64_t clamp_tick(std::int64_t tick) {
  if (tick > kFurthestTick) return kFurthestTick;
  return tick < -kFurthestTick ? -kFurthestTick : tick;
}
constexpr std::int64_t first_key(std::int64_t tick) { return clamp_tick(tick) * kPointsInKey; }
constexpr std::int64_t tick_of_key(std::int64_t key) { return key >> 8; }
constexpr Point point_of_key(std::int64_t key) {
  return static_cast<Point>(key & (kPointsInKey - 1));
}

// Quanta are one over a whole number; dividing by that number gives back the double nearest to the
// decimal figure (24.31), where multiplying by the quantum would not (24.310000000000002).
inline constexpr auto kPerUnit = [] {
  std::array<double, kPointSlots> table{};
  table.fill(1);
  for (const PointInfo& row : kPoints)
    table[slot(row.point)] = static_cast<double>(static_cast<std::int64_t>(1 / row.quantum + 0.5));
  return table;
}();
// A point of a later program, met in its file, has no quantum here: its quanta are shown as they
// are.
constexpr double per_unit(Point point) {
  return slot(point) < kPointSlots ? kPerUnit[slot(point)] : 1;
}

struct PackedReading {
  std::int64_t k = 0;
  std::optional<std::int64_t> v;
  std::uint8_t q = 0;
};

constexpr std::uint8_t pack_quality(Quality quality, Fault fault) {
  return static_cast<std::uint8_t>(static_cast<unsigned>(fault) * 4 +
                                   static_cast<unsigned>(quality));
}
constexpr Quality quality_of(std::int64_t q) { return static_cast<Quality>(q & 3); }
constexpr Fault fault_of(std::int64_t q) { return static_cast<Fault>(q >> 2); }

// Rounds half away from zero. A value that is no number, or beyond what 64 bits of quanta hold,
// is stored as no value, bad and out of range: never as another number.
inline PackedReading pack(const ReadingEntry& entry) {
  constexpr double kMostQuanta = 9e15;  // whole doubles are exact up to 2^53
  PackedReading packed;
  packed.k = key_of(tick_ms(entry.tick), entry.point);
  packed.q = pack_quality(entry.quality, entry.fault);
  if (!entry.value) return packed;
  const double quanta = std::round(*entry.value * per_unit(entry.point));
  if (std::isfinite(quanta) && std::abs(quanta) < kMostQuanta)
    packed.v = static_cast<std::int64_t>(quanta);
  else
    packed.q = pack_quality(Quality::bad, Fault::out_of_range);
  return packed;
}

inline double unpack(Point point, std::int64_t v) {
  return static_cast<double>(v) / per_unit(point);
}

// Groups of event columns. A kind always writes its own groups; another column is written only when
// it differs from a default Event, so that every event comes back as it was put in.
enum ColumnGroup : unsigned {
  kNoGroups = 0,
  kOutputGroup = 1U << 0,
  kPointGroup = 1U << 1,
  kAlarmGroup = 1U << 2,
  kLatchGroup = 1U << 3,
  kPhaseGroup = 1U << 4,
  kSlotGroup = 1U << 5,
  kCycleGroup = 1U << 6,
  kDayGroup = 1U << 7,
  kValueGroup = 1U << 8,
  kRequestGroup = 1U << 9,
};

constexpr unsigned columns_of(EventKind kind) {
  switch (kind) {
    case EventKind::actuation:
      return kOutputGroup;
    case EventKind::alarm:
      return kAlarmGroup;
    case EventKind::latch_set:
      return kLatchGroup;
    case EventKind::latch_reset:
      return kLatchGroup;
    case EventKind::flood_phase:
      return kPhaseGroup;
    case EventKind::cycle_closed:
      return kCycleGroup;
    case EventKind::cycle_settled:
      return kCycleGroup;
    case EventKind::would_actuate:
      return kOutputGroup;
    case EventKind::would_flood:
      return kSlotGroup;
    case EventKind::slot_skipped:
      return kSlotGroup;
    case EventKind::stage:
      return kValueGroup;
    case EventKind::targets:
      return kNoGroups;
    case EventKind::reading_state:
      return kPointGroup;
    case EventKind::request:
      return kRequestGroup;
    case EventKind::time:
      return kNoGroups;
    case EventKind::service:
      return kValueGroup;
    case EventKind::day_closed:
      return kDayGroup;
    case EventKind::boot:
      return kNoGroups;
    case EventKind::settings:
      return kNoGroups;
    case EventKind::client:
      return kNoGroups;
    case EventKind::fault:
      return kValueGroup;
    case EventKind::step_test:
      return kOutputGroup | kValueGroup;
    case EventKind::proof_test:
    case EventKind::hand_measurement:
      return kValueGroup;
    case EventKind::calibration:
      return kPointGroup;
  }
  return kNoGroups;
}

}  // namespace neap::journal
