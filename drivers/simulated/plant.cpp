#include "drivers/simulated/plant.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "drivers/simulated/climate.h"
#include "drivers/simulated/moist_air.h"
#include "drivers/simulated/probes.h"

namespace neap::drivers::simulated {
namespace {

constexpr std::int64_t kSurroundEvery = 30;       // s; weather is slower
constexpr std::int64_t kGrowerComes = 19 * 3600;  // second of the local day
constexpr std::int64_t kDaySeconds = 86400;
constexpr double kMostClogged = 0.9;

// Does a moment that comes each `every` seconds, at `phase`, lie in [from, from + seconds)?
bool passes(std::int64_t from, std::int64_t seconds, std::int64_t every, std::int64_t phase) {
  const std::int64_t into = ((from - phase) % every + every) % every;
  return into == 0 || into + seconds > every;
}

bool bucket_is_full(const State& s, const Parameters& p) {
  return s.faults[TentFault::bucket_full] ||
         (p.dehumidifier_bucket_l > 0 && s.bucket_kg >= p.dehumidifier_bucket_l);
}

}  // namespace

Plant::Plant(const Parameters& parameters, Weather weather, std::int64_t local_start_s)
    : parameters_(parameters),
      hydraulics_(parameters),
      weather_(std::move(weather)),
      local_start_s_(local_start_s) {}

State Plant::start() const {
  const Parameters& p = parameters_;
  const Surroundings around = weather_.at(0);
  State s;
  s.room_c = around.room_c.value_or(around.building_c);
  s.room_w = around.room_w.value_or(around.building_w);
  s.room_mass_c = s.room_c;
  s.air_c = s.surface_c = s.leaf_c = s.medium_c = s.reservoir_c = s.room_c;
  s.air_w = s.sorbed_w = s.room_buffer_w = s.room_w;
  s.medium_kg = p.medium_capacity_l;
  s.reservoir_kg = p.reservoir_start_l;
  s.salt = p.feed_ec * solution_kg(s);
  s.ph = p.feed_ph;
  s.floats.air_pump_running = true;  // as outputs rest
  start_probes(s, p);
  surround(s);
  return s;
}

Acting Plant::act(State& s, const PerOutput<Permille>& outputs) const {
  const FaultsNow& f = s.faults;
  const auto level = [&](Output o) { return outputs[o].value / 1000.0; };
  Acting a;
  const bool first = level(Output::pump) > 0 || f[TentFault::pump_contact_welded];
  const bool second =
      !s.second_contact || level(Output::pump_series) > 0 || f[TentFault::pump_series_welded];
  const bool in_automatic = !f[TentFault::pump_switch_hand] && !f[TentFault::pump_switch_off];
  const bool fed = in_automatic ? (first && second) || f[TentFault::pump_welded]
                                : f[TentFault::pump_switch_hand];
  a.pump = fed && !f[TentFault::pump_dead];
  if (f[TentFault::pump_weak]) a.pump_strength = 1 - 0.7 * f.severity_of(TentFault::pump_weak);
  if (f[TentFault::drain_slow]) a.drain_opening = 1 - 0.9 * f.severity_of(TentFault::drain_slow);
  if (f[TentFault::drain_blocked]) a.drain_opening = 0;
  a.valve_open = level(Output::drain_valve) > 0;
  a.hose_whole = !f[TentFault::hose_burst];
  a.standpipe_free = !f[TentFault::standpipe_blocked];
  if (f[TentFault::leak])
    a.leak_kg_s = 0.005 / 60 * std::pow(1000.0, f.severity_of(TentFault::leak));
  if (f[TentFault::reservoir_seeps])
    a.seep_kg_s = 0.01 / 3600 * std::pow(100.0, f.severity_of(TentFault::reservoir_seeps));
  a.fan = f[TentFault::fan_dead] ? 0.0 : level(Output::exhaust_fan);
  a.filter_passes =
      filter_passes(parameters_, std::max(parameters_.filter_clogging,
                                          kMostClogged * f.severity_of(TentFault::filter_clogged)));
  a.light = f[TentFault::light_dead]       ? 0.0
            : f[TentFault::light_stuck_on] ? 1.0
                                           : level(Output::light);
  a.circulation = level(Output::circulation_fan) > 0 && !f[TentFault::circulation_fan_dead];
  a.dehumidifier = (level(Output::dehumidifier) > 0 || f[TentFault::dehumidifier_welded]) &&
                   !f[TentFault::dehumidifier_dead];
  a.humidifier = level(Output::humidifier) > 0 && !f[TentFault::humidifier_dead];
  a.air_pump = level(Output::air_pump) > 0 && !f[TentFault::air_pump_dead];
  a.water_heater = level(Output::water_heater) > 0;
  a.water_chiller = level(Output::water_chiller) > 0;
  s.sensors_powered = level(Output::sensor_rail) > 0;
  if (!s.sensors_powered) s.bus_stuck = false;
  s.photons = canopy_photons(parameters_, a.light);
  return a;
}

// Weather, growth and what follows from them.
void Plant::surround(State& s) const {
  const auto elapsed = static_cast<double>(s.steps);
  const Surroundings around = weather_.at(elapsed);
  s.building_c = around.building_c;
  s.building_w = around.building_w;
  s.outdoor_c = around.outdoor_c;
  s.outdoor_kpa = around.outdoor_kpa;
  if (around.room_c) s.room_c = *around.room_c;
  if (around.room_w) s.room_w = *around.room_w;
  s.leaf_area = std::clamp(parameters_.leaf_area_index + parameters_.leaf_area_per_day * elapsed /
                                                             static_cast<double>(kDaySeconds),
                           0.0, std::max(parameters_.leaf_area_most, parameters_.leaf_area_index));
}

// What comes at its own times, if one lies within the coming seconds.
void Plant::meet(State& s, std::int64_t seconds) const {
  if (passes(s.steps, seconds, kSurroundEvery, 0)) surround(s);
  if (passes(local_start_s_ + s.steps, seconds, kDaySeconds, kGrowerComes))
    grower_round(s, parameters_);
}

void Plant::step(State& s, const Acting& a) const {
  meet(s, 1);
  const bool splash = step_water(s, parameters_, hydraulics_, a);
  s.floats.bucket_full = bucket_is_full(s, parameters_);
  step_climate(s, parameters_, a, 1, splash, weather_.room_is_recorded());
  step_probes(s, parameters_, a.circulation);
  ++s.steps;
}

void Plant::stride(State& s, const Acting& a, int seconds) const {
  meet(s, seconds);
  const bool splash = a.pump || s.tray_kg > 0;
  if (splash || a.leak_kg_s > 0 || a.seep_kg_s > 0)
    for (int i = 0; i < seconds; ++i) step_water(s, parameters_, hydraulics_, a);
  s.floats.bucket_full = bucket_is_full(s, parameters_);
  step_climate(s, parameters_, a, seconds, splash, weather_.room_is_recorded());
  s.steps += seconds;
}

bool Plant::is_still(const State& s, const Acting& a) const {
  return !a.pump && s.tray_kg <= 0 && s.floor_kg <= 0 && a.leak_kg_s <= 0 && a.seep_kg_s <= 0 &&
         !s.faults[TentFault::tray_float_bounces];
}

void Plant::coast(State& s, const Acting& a, int seconds) const {
  stride(s, a, seconds);
  step_water(s, parameters_, hydraulics_, a);
  for (int i = 0; i < seconds; ++i) step_probes(s, parameters_, a.circulation);
}

Truth Plant::truth(const State& s) const {
  Truth t;
  t.air_c = s.air_c;
  t.air_w = s.air_w;
  const double vapour = vapour_kpa(s.air_w);
  const double saturation = saturation_kpa(s.air_c);
  t.air_percent = 100 * vapour / saturation;
  t.vpd_kpa = saturation - vapour;
  t.leaf_c = s.leaf_c;
  t.leaf_vpd_kpa = saturation_kpa(s.leaf_c) - vapour;
  t.room_c = s.room_c;
  t.room_w = s.room_w;
  t.room_vpd_kpa = saturation_kpa(s.room_c) - vapour_kpa(s.room_w);
  t.medium_c = s.medium_c;
  t.reservoir_c = s.reservoir_c;
  t.tray_l = s.tray_kg;
  t.reservoir_l = s.reservoir_kg;
  t.medium_l = s.medium_kg;
  t.floor_l = s.floor_kg;
  t.ec = solution_ec(s);
  t.ph = s.ph;
  t.floats = s.floats;
  t.ledger = s.ledger;
  t.water_balance_kg =
      water_held_kg(s, parameters_, weather_.room_is_recorded()) - s.ledger.water_in_kg;
  t.heat_held_j = heat_held_j(s, parameters_);
  t.heat_balance_j = t.heat_held_j - s.ledger.heat_in_j;
  t.elapsed_s = static_cast<double>(s.steps);
  return t;
}

}  // namespace neap::drivers::simulated
