#include "daemon/core/tally.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/pump_contacts.h"

namespace neap {
namespace {

constexpr double kHumidAbove = 85;  // % RH, the mark of the daily report
constexpr int kFanMove = 50;        // permille: a change of 5 % or more is a move
constexpr Millis kMeanOver = minutes{5};

void tally_vpd(DayTally& tally, const State& state, Millis span) {
  const auto& vpd = banded_vpd(state);
  if (!vpd) return;
  const Band& band = state.targets.band;
  const double distance =
      std::max({band.low.value - vpd->value, vpd->value - band.high.value, 0.0});
  (state.day ? tally.day_known : tally.night_known) += span;
  if (distance == 0) (state.day ? tally.day_in_band : tally.night_in_band) += span;
  if (vpd->value < band.low.value) tally.below += span;
  if (vpd->value > band.high.value) tally.above += span;
  tally.kpa_h_out += distance * static_cast<double>(span.count()) / 3'600'000;
  tally.vpd_lowest = tally.any_vpd ? std::min(tally.vpd_lowest, vpd->value) : vpd->value;
  tally.vpd_highest = tally.any_vpd ? std::max(tally.vpd_highest, vpd->value) : vpd->value;
  tally.any_vpd = true;
}

}  // namespace

const Reading<Kilopascal>& banded_vpd(const State& state) {
  return state.targets.band_of == BandOf::leaf ? state.canopy.leaf_vpd : state.canopy.vpd;
}

void tally_interval(const Plan& plan, State& state, Instant now) {
  if (!state.scanned) return;
  const Millis span = now - state.last_scan;
  DayTally& tally = state.kept.tally;
  tally_vpd(tally, state, span);
  if (state.canopy.humidity && state.canopy.humidity->value > kHumidAbove) tally.humid += span;
  const auto& commands = state.last.commands;
  if (pump_runs(plan, state.last)) {
    tally.pump_on += span;
    if (state.flood.phase == FloodPhase::fill || state.flood.phase == FloodPhase::soak)
      state.flood.row.pump_on += span;
  }
  if (commands[Output::dehumidifier].level > kStopped) tally.dehumidifier_on += span;
  if (commands[Output::humidifier].level > kStopped) tally.humidifier_on += span;
  if (state.last.driven[Output::exhaust_fan])
    tally.fan_hours += commands[Output::exhaust_fan].level.value / 1000.0 *
                       static_cast<double>(span.count()) / 3'600'000;
}

void tally_changes(State& state, const OutputImage& granted) {
  DayTally& tally = state.kept.tally;
  const auto before = [&](Output o) { return state.last.commands[o].level; };
  const auto after = [&](Output o) { return granted.commands[o].level; };
  if (before(Output::dehumidifier) == kStopped && after(Output::dehumidifier) > kStopped)
    ++tally.dehumidifier_starts;
  if (std::abs(before(Output::exhaust_fan).value - after(Output::exhaust_fan).value) >= kFanMove)
    ++tally.fan_moves;
}

void tally_litres(DayTally& tally, const CycleRow& row) {
  if (!row.litres_known) return;
  tally.litres_out += row.litres_out;
  tally.litres_back += row.litres_back;
}

void turn_day(State& state, Instant now, Events& events) {
  if (!state.slot_table.valid) return;
  DayTally& tally = state.kept.tally;
  const std::int32_t date = state.slot_table.date;
  if (tally.date == date) return;
  if (tally.date != 0) {
    Event event;
    event.kind = EventKind::day_closed;
    event.day = tally;
    events.push(event);
  }
  tally = DayTally{};
  tally.date = date;
  tally.began_tick = tick_ms(now);
}

void mean_vpd(State& state, bool new_sample, Instant now) {
  const auto& vpd = banded_vpd(state);
  if (!vpd || !new_sample) return;
  if (!state.vpd_mean_known) {
    state.vpd_mean_kpa = vpd->value;
    state.vpd_mean_known = true;
  } else {
    const double dt = static_cast<double>((now - state.vpd_mean_at).count());
    const double weight = 1 - std::exp(-dt / static_cast<double>(kMeanOver.count()));
    state.vpd_mean_kpa += weight * (vpd->value - state.vpd_mean_kpa);
  }
  state.vpd_mean_at = now;
}

namespace {

void end_dip(State& state, Events& events) {
  VpdDip& dip = state.dip;
  if (dip.active && dip.row_closed) {
    tally_litres(state.kept.tally, dip.row);
    Event event;
    event.kind = EventKind::cycle_settled;
    event.cycle = dip.row;
    events.push(event);
  }
  dip = VpdDip{};
}

void begin_dip(State& state) {
  state.dip = VpdDip{};
  state.dip.active = true;
  state.dip.row = state.flood.row;
  if (!state.vpd_mean_known) return;
  state.dip.row.dip_known = true;
  state.dip.row.vpd_before_kpa = state.vpd_mean_kpa;
  state.dip.row.vpd_lowest_kpa = state.vpd_mean_kpa;
}

// The closed row has the flood's own figures; the dip's stay from the follower.
void take_row(VpdDip& dip, const CycleRow& row) {
  const CycleRow seen = dip.row;
  dip.row = row;
  dip.row.dip_known = seen.dip_known;
  dip.row.vpd_before_kpa = seen.vpd_before_kpa;
  dip.row.vpd_lowest_kpa = seen.vpd_lowest_kpa;
  dip.row.recovery = seen.recovery;
  dip.row.recovered = seen.recovered;
  dip.row_closed = true;
}

}  // namespace

void follow_dip(State& state, const FloodNews& news, bool pump_running, Instant now,
                Events& events) {
  VpdDip& dip = state.dip;
  if (news.started) {
    end_dip(state, events);
    begin_dip(state);
  }
  if (!dip.active) return;
  if (news.row_closed || news.settled) take_row(dip, news.row);
  dip.settled = dip.settled || news.settled;
  const auto& vpd = banded_vpd(state);
  if (vpd && !dip.row.recovered)
    dip.row.vpd_lowest_kpa = std::min(dip.row.vpd_lowest_kpa, vpd->value);
  if (!dip.pump_stopped && !pump_running && !news.started) {
    dip.pump_stopped = true;
    dip.pump_stopped_at = now;
  }
  if (!dip.pump_stopped) return;
  const Millis since = now - dip.pump_stopped_at;
  if (vpd && !dip.row.recovered && *vpd >= state.targets.band.low) {
    dip.row.recovered = true;
    dip.row.recovery = since;
  }
  const bool recovered = !dip.row.dip_known || dip.row.recovered || since >= kDipLongest;
  if (dip.row_closed && dip.settled && recovered) end_dip(state, events);
}

Instant next_dip_deadline(const State& state) {
  if (!state.dip.active || !state.dip.pump_stopped) return Instant::max();
  return state.dip.pump_stopped_at + kDipLongest;
}

}  // namespace neap
