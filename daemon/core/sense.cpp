#include "daemon/core/sense.h"

#include <cmath>

#include "daemon/core/air.h"
#include "daemon/core/rail.h"
#include "daemon/core/watch.h"

namespace neap {
namespace {

void note_reading(const PointInfo& row, PointWatch& watch, Events& events) {
  const bool lost = !watch.reading;
  if (lost == watch.lost) return;
  watch.lost = lost;
  Event event;
  event.kind = EventKind::reading_state;
  event.point = row.point;
  event.because = lost ? because(Reason::reading_lost, static_cast<double>(slot(row.point)),
                                 static_cast<double>(watch.reading.fault()))
                       : because(Reason::reading_back, static_cast<double>(slot(row.point)));
  events.push(event);
}

// Readings stay as they are for many scans, so that `before` is nearly always what is wanted.
Air air_at(const Plan& plan, const State& state, Point temperature, Point humidity,
           const Air& before, Instant now) {
  const auto offset =
      plan.climate.leaf_offset_set ? std::optional{plan.climate.leaf_offset} : std::nullopt;
  const auto warm = in_unit<Celsius>(state, temperature);
  const auto humid = in_unit<PercentRh>(state, humidity);
  const auto leaf = in_unit<Celsius>(state, Point::leaf_temperature);
  if (derived_from(before, warm, humid, leaf, offset)) return before;
  return derive_air(warm, humid, leaf, offset, now);
}

// Of two canopy probes the damper one is controlled on: mould grows where the air is wettest.
Air canopy_air(const Plan& plan, State& state, Instant now) {
  const Air first =
      air_at(plan, state, Point::canopy_temperature, Point::canopy_humidity, state.canopy, now);
  state.probes_apart_kpa = 0;
  if (!plan.points[Point::canopy_b_temperature]) return first;
  const Air second =
      air_at(plan, state, Point::canopy_b_temperature, Point::canopy_b_humidity, state.canopy, now);
  if (!second.vpd) return first;
  if (!first.vpd) return second;
  state.probes_apart_kpa = std::abs(first.vpd->value - second.vpd->value);
  return *second.vpd < *first.vpd ? second : first;
}

template <class Unit>
void tell_derived(Outcome& out, Point point, const Reading<Unit>& reading) {
  out.derived.push(
      {point, reading ? Reading<double>::of(reading->value, reading.quality(), reading.taken())
                      : Reading<double>::absent(reading.fault())});
}

}  // namespace

void take_readings(const Plan& plan, State& state, const Inputs& inputs, Instant now,
                   Events& events) {
  for (const PointInfo& row : kPoints) {
    const auto& fitted = plan.points[row.point];
    PointWatch& watch = state.points[row.point];
    if (!fitted) {
      watch.reading = Reading<double>::absent(Fault::not_fitted);
      continue;
    }
    if (rail_suspends(plan, state, row.point)) {  // what it says without supply is no news
      watch.last_count = inputs.samples[row.point].count;
      continue;
    }
    const Sample& sample = inputs.samples[row.point];
    const Correction correction = correction_of(plan, state, row.point);
    if (watch_point(row, *fitted, watch, sample, state.echo.at, now, correction))
      note_error(state.echo, sample.taken);
    // Not yet read since the start is no loss.
    if (watch.any_good || watch.fault != Fault::never_read) note_reading(row, watch, events);
  }
}

bool derive(const Plan& plan, State& state, Instant now, Outcome& out) {
  state.canopy = canopy_air(plan, state, now);
  state.room = air_at(plan, state, Point::room_temperature, Point::room_humidity, state.room, now);
  const std::uint32_t count = state.points[Point::canopy_temperature].last_count +
                              state.points[Point::canopy_humidity].last_count +
                              state.points[Point::canopy_b_temperature].last_count;
  if (count == state.decided_count) return false;
  state.decided_count = count;
  tell_derived(out, Point::canopy_vpd, state.canopy.vpd);
  tell_derived(out, Point::canopy_dew_point, state.canopy.dew_point);
  tell_derived(out, Point::canopy_vapour_density, state.canopy.vapour_density);
  if (state.canopy.leaf_vpd) tell_derived(out, Point::leaf_vpd, state.canopy.leaf_vpd);
  if (plan.points[Point::room_temperature]) tell_derived(out, Point::room_vpd, state.room.vpd);
  return true;
}

}  // namespace neap
