#include "daemon/core/conditions.h"

#include <algorithm>
#include <cmath>

#include "daemon/core/budget.h"
#include "daemon/core/button.h"
#include "daemon/core/denials.h"
#include "daemon/core/device_doubt.h"
#include "daemon/core/fan_speed.h"
#include "daemon/core/flood_proof.h"
#include "daemon/core/flood_still.h"
#include "daemon/core/oxygen.h"
#include "daemon/core/pump_contacts.h"
#include "daemon/core/rail.h"
#include "daemon/core/roots.h"
#include "daemon/core/schedule.h"
#include "daemon/core/sense.h"
#include "daemon/core/supply.h"
#include "daemon/core/watch.h"
#include "daemon/core/water_temperature.h"

namespace neap {
namespace {

// Light is dimmed this far under the temperature that sheds it, and each step is left this far
// under the one that entered it, so that the lamp does not blink with its own heat.
constexpr Celsius kDimBefore{2.0};
constexpr Celsius kHeatHysteresis{1.0};

Heat heat_now(const Plan& plan, const State& state) {
  const Heat before = state.kernel_inputs.heat;
  const bool was_hot = before == Heat::dim || before == Heat::shed;
  // A probe that dies of the heat it reported does not end it: shed and dim stay until it is read.
  if (!state.canopy.temperature) return was_hot ? before : Heat::unknown;
  // The first word of a probe, or one held from before, neither dims nor sheds, nor ends either.
  if (state.canopy.temperature.quality() != Quality::good) return was_hot ? before : Heat::normal;
  const Celsius air = *state.canopy.temperature;
  const Celsius shed = plan.climate.shed_above;
  const Celsius dim = shed - kDimBefore;
  if (air >= shed || (before == Heat::shed && air > shed - kHeatHysteresis)) return Heat::shed;
  if (air >= dim || (was_hot && air > dim - kHeatHysteresis)) return Heat::dim;
  return Heat::normal;
}

bool readable(FloatSeen seen) { return seen == FloatSeen::clear || seen == FloatSeen::set; }

// The owner's policy `timed` (hazards W18): the roots' time is over, one of the two senses of the
// water is blind, the other vouches for it, and every probe is dry. Holds until the tray has
// drained.
bool by_time_now(const Plan& plan, const State& state, const KernelInputs& in, Instant now) {
  if (plan.table.blind != BlindPolicy::timed) return false;
  if (state.kept.flood_learnt.fills < proof::kEnoughFills) return false;
  if (in.leak != LeakSeen::dry) return false;
  const bool tray_blind = in.tray_full == FloatSeen::unknown;
  const bool reservoir_blind = in.reservoir == LevelSeen::unknown;
  if (tray_blind == reservoir_blind) return false;
  if (state.flood.by_time && state.kept.flood_was_running) return true;
  if (!roots_in_want(plan, state, now) || !roots_time_over(plan, state)) return false;
  const auto level = in_unit<Litres>(state, Point::reservoir_level);
  return tray_blind ? balance_is_flat(state.flood, level) : readable(in.tray_full);
}

// Every fitted contact has said something.
bool all_inputs_seen(const Plan& plan, const Inputs& inputs) {
  return std::all_of(kPoints.begin(), kPoints.end(), [&](const PointInfo& row) {
    return row.kind != PointKind::contact || !plan.points[row.point] ||
           inputs.samples[row.point].count > 0;
  });
}

struct Teller {
  Conditions& out;
  void tell(Alarm alarm, bool active, Because why = {}) {
    Condition& told = out[static_cast<std::size_t>(alarm)];
    told.active = active;
    if (active) told.because = why;
  }
};

// What the readings made likely, remembered by the alarm over a restart.
Because lost_water_because(const State& state) {
  if (state.flood.lost_because.reason != Reason::none) return state.flood.lost_because;
  const Because& told = state.kept.alarms[static_cast<std::size_t>(Alarm::lost_water)].because;
  return told.reason != Reason::none ? told : because(Reason::flood_lost_water);
}

// Which of two contacts it is, remembered likewise.
Because welded_because(const Plan& plan, const State& state) {
  const PumpProof& pump = state.pump_proof;
  const Because& told = state.kept.alarms[static_cast<std::size_t>(Alarm::pump_welded)].because;
  if (pump.seen != PumpSeen::welded && told.reason != Reason::none) return told;
  const bool one_of_two = pump.seen == PumpSeen::welded && plan.outputs[Output::pump_series];
  return one_of_two ? because(Reason::contact_welded, number_of_tried(state))
                    : because(Reason::pump_welded);
}

// A switch left in hand is medium news, until the pump has run longer than any flood may.
bool forgotten(const Plan& plan, const State& state) {
  const PumpBudget& budget = state.kept.budget;
  return state.pump_proof.runs_untold && budget.run_open &&
         run_deadline(budget) - run_start(budget) > plan.table.max_on_per_flood;
}

void water_conditions(const Plan& plan, const State& state, const Seen& seen, Teller& t) {
  const KernelInputs& in = state.kernel_inputs;
  const auto latched = [&](Latch latch) {
    return state.kept.kernel.latched[static_cast<std::size_t>(latch)];
  };
  const auto where = static_cast<double>(slot(seen.leak.where));
  t.tell(
      Alarm::leak, in.leak == LeakSeen::wet || latched(Latch::leak),
      in.leak == LeakSeen::wet ? because(Reason::leak_wet, where) : because(Reason::leak_latched));
  t.tell(Alarm::tray_overflow, in.tray_high == FloatSeen::set || latched(Latch::tray_overflow),
         because(Reason::tray_overflow));
  t.tell(Alarm::lost_water, latched(Latch::lost_water), lost_water_because(state));
  t.tell(Alarm::fill_failed, latched(Latch::fill_failed), because(Reason::flood_fill_limit));
  t.tell(Alarm::slow_drain, latched(Latch::slow_drain), because(Reason::tray_not_drained));
  const bool should_stop = in.leak == LeakSeen::wet || in.tray_high == FloatSeen::set ||
                           latched(Latch::leak) || latched(Latch::tray_overflow) ||
                           latched(Latch::lost_water) ||
                           (in.reservoir == LevelSeen::low && another_hand_pumps(state.flood));
  t.tell(Alarm::not_ours_to_stop, should_stop && in_another_hand(plan, Output::pump),
         because(Reason::not_ours_to_stop));
  t.tell(Alarm::pump_welded, latched(Latch::pump_welded), welded_because(plan, state));
  t.tell(Alarm::pump_in_hand,
         in.pump_seen == PumpSeen::in_hand || state.pump_proof.stands || forgotten(plan, state),
         because(state.pump_proof.stands ? Reason::pump_stands : Reason::pump_in_hand));
  t.tell(Alarm::pump_off_auto, in.pump_seen == PumpSeen::off_auto,
         because(state.pump_proof.runs_untold ? Reason::pump_by_hand : Reason::pump_off_auto));
  t.tell(Alarm::state_lost, latched(Latch::state_lost), because(Reason::state_lost));
  t.tell(Alarm::pump_no_effect, state.flood.no_effect_alarm, because(Reason::flood_no_effect));
  t.tell(Alarm::fill_slow, state.flood.fill_alarm, because(Reason::flood_fill_slow));
  t.tell(Alarm::reservoir_low, in.reservoir == LevelSeen::low, because(Reason::reservoir_low));
  t.tell(Alarm::pump_budget, in.budget_hour_spent || in.budget_day_spent,
         in.budget_day_spent
             ? because(Reason::budget_day, static_cast<double>(seen.budget.day.count()) / 1000,
                       static_cast<double>(seen.budget.day_limit.count()) / 1000)
             : because(Reason::budget_hour, static_cast<double>(seen.budget.hour.count()) / 1000,
                       static_cast<double>(plan.table.max_on_per_hour.count()) / 1000));
  t.tell(Alarm::leak_probe_fault, in.leak == LeakSeen::unknown,
         because(Reason::leak_unknown, where));
  t.tell(Alarm::leak_damp, in.leak == LeakSeen::damp, because(Reason::leak_damp, where));
  const bool float_lost = in.tray_full == FloatSeen::unknown ||
                          in.tray_high == FloatSeen::unknown || in.reservoir == LevelSeen::unknown;
  t.tell(Alarm::float_fault, float_lost || state.flood.float_doubtful,
         float_lost ? because(Reason::float_unknown) : because(Reason::flood_float_early));
  t.tell(Alarm::flood_withheld, state.withheld.reason != Reason::none, state.withheld);
  const Because untested = unproven(plan.proofs, state.kept.proofs);
  t.tell(Alarm::unproven, untested.reason != Reason::none, untested);
  const Because due = proof_due(plan, state);
  t.tell(Alarm::proof_due, due.reason != Reason::none, due);
}

// What is wrong with the senses themselves, and a leak too slow for any probe.
void sense_conditions(const Plan& plan, const State& state, Instant now, Teller& t) {
  const WaterBalance& balance = state.kept.balance;
  t.tell(Alarm::slow_leak, slow_leak(balance), because(Reason::slow_leak, 24 * balance.l_per_h));
  for (const PointInfo& row : kPoints)
    if (plan.points[row.point] && chatters(state.points[row.point].contact, now)) {
      t.tell(Alarm::contact_chatters, true,
             because(Reason::contact_chatters, static_cast<double>(slot(row.point))));
      break;
    }
  t.tell(Alarm::switching_noise, errors_come_with_switching(state.echo),
         because(Reason::switching_noise));
}

// From the flood that is late to the crop that wilts, each rung with the time that is left.
void roots_conditions(const Plan& plan, const State& state, Instant now, Teller& t) {
  const bool want = roots_in_want(plan, state, now);
  if (!state.kept.flood_missed && !want) return;
  const Because roots = roots_because(plan, state, now);
  const double until = roots.reason == Reason::roots_safe_until ? roots.args[0] : 0;
  t.tell(Alarm::flood_missed, state.kept.flood_missed, because(Reason::flood_missed, until));
  t.tell(Alarm::roots_thirsty, want && roots_half_gone(plan, state), roots);
  t.tell(Alarm::roots_dry, want && roots_time_over(plan, state), roots);
}

// Absent readings of fitted points; the canopy and the room have alarms of their own.
const PointInfo* lost_point(const Plan& plan, const State& state) {
  for (const PointInfo& row : kPoints) {
    if (row.kind != PointKind::analog || !plan.points[row.point] || state.points[row.point].reading)
      continue;
    const bool has_own = row.point == Point::canopy_temperature ||
                         row.point == Point::canopy_humidity ||
                         row.point == Point::room_temperature || row.point == Point::room_humidity;
    if (!has_own) return &row;
  }
  return nullptr;
}

Because lost_because(const State& state, Point point) {
  return because(Reason::reading_lost, static_cast<double>(slot(point)),
                 static_cast<double>(state.points[point].reading.fault()));
}

// Named by the probe that is to blame, and by what is wrong with it.
void canopy_condition(const State& state, Teller& t) {
  const bool warm = state.points[Point::canopy_temperature].reading.usable();
  t.tell(Alarm::canopy_lost, !state.canopy.vpd,
         lost_because(state, warm ? Point::canopy_humidity : Point::canopy_temperature));
}

void room_condition(const Plan& plan, const State& state, Teller& t) {
  for (const Point point : {Point::room_temperature, Point::room_humidity})
    if (plan.points[point] && !state.points[point].reading)
      return t.tell(Alarm::room_lost, true, lost_because(state, point));
}

// The air pump is driven and its proof says that it stands. How long the roots have is told from
// when it stood, by the solution's temperature where that is known.
void air_pump_condition(const Plan& plan, const State& state, Instant now, Teller& t) {
  const bool stands = state.last.commands[Output::air_pump].level > kStopped &&
                      plan.outputs[Output::air_pump] &&
                      float_seen(plan, state, Point::air_pump_running) == FloatSeen::clear;
  const AlarmRecord& record = state.kept.alarms[static_cast<std::size_t>(Alarm::air_pump_stands)];
  const auto water = in_unit<Celsius>(state, Point::solution_temperature);
  const std::optional<Millis> lasts = water ? oxygen_lasts(*water) : std::nullopt;
  if (!lasts) return t.tell(Alarm::air_pump_stands, stands, because(Reason::air_pump_stands));
  const Millis stood = record.condition ? now - record.condition_since : Millis{0};
  const Millis left = std::max(Millis{0}, *lasts - stood);
  t.tell(Alarm::air_pump_stands, stands,
         because(Reason::air_pump_stands, water->value,
                 static_cast<double>(left.count() / 60'000 * 60)));
}

// Under a fifth of its level (a choice) a lamp may be as dim as what is dark, by a ramp too.
constexpr Permille kSeenFrom{200};

// Dark while neap has it on: a lamp, ballast or relay that failed. None without a light sensor.
bool light_is_out(const Plan& plan, const State& state) {
  const Reading<double>& lux = state.points[Point::light_level].reading;
  return drives(plan, Output::light) && lux && *lux < kDark &&
         state.last.commands[Output::light].level >= kSeenFrom;
}

// The things themselves, by what they say of themselves.
void device_conditions(const Plan& plan, const State& state, Instant now, Teller& t) {
  const Reading<double>& rpm = state.points[Point::exhaust_fan_speed].reading;
  const bool stands = fan_stands(state);
  t.tell(Alarm::fan_stands, stands, stands ? because(Reason::fan_stands, *rpm) : Because{});
  t.tell(Alarm::button_stuck, is_stuck(state.button, now), because(Reason::button_stuck));
  const bool hot =
      plan.outputs[Output::water_heater] && state.kernel_inputs.water == WaterSeen::hot;
  const Reading<double>& water = state.points[Point::solution_temperature].reading;
  t.tell(Alarm::water_too_hot, hot,
         because(Reason::water_too_hot, water ? *water : 0, plan.water.hottest.value));
  const bool out = light_is_out(plan, state);
  t.tell(Alarm::light_out, out,
         out ? because(Reason::light_out, *state.points[Point::light_level].reading) : Because{});
}

void supply_conditions(const State& state, Instant now, Teller& t) {
  t.tell(Alarm::supply_low, state.kernel_inputs.supply_low, because(Reason::supply_low));
  const int sags = sags_of_the_day(state.kept.supply_sags, now);
  t.tell(Alarm::supply_sags, sags > kSagsTold, because(Reason::supply_sags, sags));
  t.tell(Alarm::rail_helps_not, rail_helps_not(state),
         because(Reason::rail_helps_not, state.rail.tries));
}

struct DoubtAlarm {
  Doubt doubt;
  Alarm alarm;
  Reason because;
};
constexpr std::array kDoubtAlarms{
    DoubtAlarm{Doubt::fan_dead, Alarm::fan_dead, Reason::doubt_fan_dead},
    DoubtAlarm{Doubt::dehumidifier_dead, Alarm::dehumidifier_dead, Reason::doubt_dehumidifier_dead},
    DoubtAlarm{Doubt::dehumidifier_welded, Alarm::dehumidifier_welded,
               Reason::doubt_dehumidifier_welded},
    DoubtAlarm{Doubt::humidifier_dry, Alarm::humidifier_dry, Reason::doubt_humidifier_dry},
    DoubtAlarm{Doubt::light_stuck_on, Alarm::light_stuck_on, Reason::doubt_light_stuck_on},
};
static_assert(kDoubtAlarms.size() == kDoubtCount);

// Whether the alarm's condition held in the last scan.
bool stood(const State& state, Alarm alarm) {
  return state.kept.alarms[static_cast<std::size_t>(alarm)].condition;
}

void climate_conditions(const Plan& plan, const State& state, Teller& t) {
  const Air& air = state.canopy;
  const ClimateTargets& targets = state.targets;
  canopy_condition(state, t);
  room_condition(plan, state, t);
  // Air that swings about its limit on a hot afternoon is one alarm, not forty.
  const bool was_hot = stood(state, Alarm::over_temperature);
  const Celsius hot = targets.air_highest + (was_hot ? Celsius{0} : kOverLimit);
  t.tell(Alarm::over_temperature, air.temperature && *air.temperature > hot,
         because(Reason::air_too_warm, air.temperature ? air.temperature->value : 0,
                 targets.air_highest.value));
  t.tell(Alarm::under_temperature, air.temperature && *air.temperature < targets.air_lowest,
         because(Reason::air_too_cold, air.temperature ? air.temperature->value : 0,
                 targets.air_lowest.value));
  t.tell(Alarm::humidity_high, air.humidity && *air.humidity > targets.humidity_ceiling,
         because(Reason::humidity_over_ceiling, air.humidity ? air.humidity->value : 0,
                 targets.humidity_ceiling.value));
  t.tell(Alarm::vpd_out_of_band,
         state.binding != Binding::nothing && state.binding != Binding::no_reading,
         state.diagnosis);
  for (const auto& [doubt, alarm, why] : kDoubtAlarms)
    t.tell(alarm, state.doubts[doubt], because(why));
  t.tell(Alarm::condensation, state.condensing, state.condensation);
  t.tell(Alarm::bucket_full, state.kernel_inputs.bucket_full, because(Reason::bucket_full));
  t.tell(Alarm::spread, state.probes_apart_kpa > kProbeSpread.value,
         because(Reason::probes_disagree, state.probes_apart_kpa));
  const PointInfo* lost = lost_point(plan, state);
  t.tell(Alarm::sensor_lost, lost != nullptr,
         lost == nullptr ? Because{} : lost_because(state, lost->point));
}

}  // namespace

KernelInputs kernel_inputs(const Plan& plan, const State& state, const Inputs& inputs,
                           const Seen& seen, Instant now) {
  KernelInputs in;
  in.leak = seen.leak.worst;
  in.leak_at = seen.leak.where;
  in.leak_confirmed = seen.leak.confirmed;
  in.tray_high = float_seen(plan, state, Point::tray_high);
  in.tray_full = float_seen(plan, state, Point::tray_full);
  in.reservoir = reservoir_seen(plan, state);
  in.fill_expired = state.flood.fill_expired;
  in.lost_water = state.flood.lost_water;
  in.drain_expired = state.flood.drain_expired;
  const PumpBudget& budget = state.kept.budget;
  // What another hand pumps is counted as it is seen, and ends when that hand wants.
  in.run_expired =
      !in_another_hand(plan, Output::pump) && budget.run_open && now >= run_deadline(budget);
  // A run that neap granted was debited whole: its own end is its limit.
  const bool debited =
      budget.run_open && !in_another_hand(plan, Output::pump) && !state.pump_proof.runs_untold;
  const bool in_flood =
      state.flood.phase == FloodPhase::fill || state.flood.phase == FloodPhase::soak;
  const Millis used = in_flood ? state.flood.row.pump_on : Millis{0};
  in.budget_cycle_spent = !debited && used + kShortestRun > plan.table.max_on_per_flood;
  in.budget_hour_spent = !debited && seen.budget.hour_spent;
  in.budget_day_spent = !debited && seen.budget.day_spent;
  const Output troubled = inputs.troubled_output;
  in.deaf = inputs.output_trouble && moves_water(troubled);
  in.deaf_at = troubled;
  // A pump that runs was debited before it did.
  in.unsaved = inputs.unsaved && !pump_runs(plan, state.last);
  in.pump_seen = state.pump_proof.seen;
  in.service = state.service;
  in.rail_off = rail_is_cycling(state);
  in.supply_low = supply_is_low(state, now);
  in.timed = by_time_now(plan, state, in, now);
  in.heat = heat_now(plan, state);
  in.bucket_full = float_seen(plan, state, Point::bucket_full) == FloatSeen::set;
  in.covered = covered_seen(plan, state);
  in.water = water_seen(plan, state);
  in.outputs_proven = inputs.outputs_proven;
  in.first_inputs_seen = state.kernel_inputs.first_inputs_seen || all_inputs_seen(plan, inputs);
  return in;
}

Conditions alarm_conditions(const Plan& plan, const State& state, const Inputs& inputs,
                            const Seen& seen, Instant now) {
  Conditions out;
  Teller t{out};
  water_conditions(plan, state, seen, t);
  sense_conditions(plan, state, now, t);
  roots_conditions(plan, state, now, t);
  climate_conditions(plan, state, t);
  air_pump_condition(plan, state, now, t);
  device_conditions(plan, state, now, t);
  supply_conditions(state, now, t);
  solution_conditions(plan, state, out);
  const StagePlan& stage = stage_in_force(plan, state);
  const StageAdvice advice = advise_stage(plan.programme, state.kept.stage_index,
                                          state.kept.stage_entered_date, state.civil.date);
  const bool time_known = time_is_known(state.last_wall);
  t.tell(Alarm::stage_due, time_known && advice.due,
         because(Reason::stage_due, advice.day, stage.days));
  const bool behind = time_known && state.slot_table.date < state.kept.slots_date;
  t.tell(Alarm::time_unknown, !time_known || behind,
         because(behind ? Reason::clock_behind : Reason::time_not_known));
  t.tell(Alarm::journal_trouble, inputs.journal_trouble || inputs.journal_log_grows,
         because(inputs.journal_trouble ? Reason::journal_trouble : Reason::journal_log_grows));
  t.tell(Alarm::output_fault, inputs.output_trouble,
         because(Reason::output_trouble, static_cast<double>(slot(inputs.troubled_output))));
  t.tell(Alarm::service_overdue, state.service_overdue, because(Reason::service_holds));
  t.tell(Alarm::request_denied, denied_of_late(state.denials, now),
         because(Reason::request_denied));
  t.tell(Alarm::state_unsaved, inputs.unsaved, because(Reason::state_unsaved));
  return out;
}

}  // namespace neap
