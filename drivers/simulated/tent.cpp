#include "drivers/simulated/tent.h"

#include <algorithm>
#include <cmath>

#include "drivers/simulated/climate.h"
#include "drivers/simulated/moist_air.h"

namespace neap::drivers {

using simulated::Acting;
using simulated::AirSaid;
using simulated::canopy_photons;
using simulated::Contacts;
using simulated::contacts_of;
using simulated::FaultsNow;
using simulated::kTentFaultCount;
using simulated::kTentFaults;
using simulated::Parameters;
using simulated::Place;
using simulated::Said;
using simulated::saturation_kpa;
using simulated::SolutionSaid;
using simulated::State;
using simulated::Surroundings;
using simulated::TentFault;
using simulated::vapour_kpa;
using simulated::Weather;

namespace {

constexpr Millis kGrid = seconds{1};
constexpr std::int64_t kSurroundEvery = 30;       // steps; weather is slower
constexpr std::int64_t kGrowerComes = 19 * 3600;  // second of the local day
constexpr std::int64_t kDaySeconds = 86400;

std::optional<std::size_t> fault_index(std::string_view name) {
  for (std::size_t i = 0; i < kTentFaultCount; ++i)
    if (kTentFaults[i].name == name) return i;
  return {};
}

std::string fault_objection(std::string_view name, double severity) {
  if (!fault_index(name)) {
    std::string known;
    for (const World::FaultName& row : kTentFaults) known += " " + std::string(row.name);
    return "the simulated tent has no fault '" + std::string(name) + "'; it has:" + known;
  }
  if (!(severity >= 0 && severity <= 1))
    return "severity of " + std::string(name) + " is " + std::to_string(severity) +
           "; must be 0 to 1";
  return {};
}

// Whole grid steps that pass before `t` after the start.
std::int64_t steps_before(Millis t) { return (t.count() + 999) / 1000; }

std::int64_t floor_div(std::int64_t a, std::int64_t b) { return (a >= 0 ? a : a - b + 1) / b; }

bool wets_the_floor(std::size_t fault) {
  const auto f = static_cast<TentFault>(fault);
  return f == TentFault::leak || f == TentFault::hose_burst || f == TentFault::standpipe_blocked;
}

State start_state(const Parameters& p, const Surroundings& around) {
  State s;
  s.room_c = around.room_c.value_or(around.building_c);
  s.room_w = around.room_w.value_or(around.building_w);
  s.room_mass_c = s.room_c;
  s.air_c = s.surface_c = s.leaf_c = s.medium_c = s.reservoir_c = s.room_c;
  s.air_w = s.sorbed_w = s.room_buffer_w = s.room_w;
  s.leaf_area = p.leaf_area_index;
  s.medium_kg = p.medium_capacity_l;
  s.reservoir_kg = p.reservoir_start_l;
  s.salt = p.feed_ec * simulated::solution_kg(s);
  s.ph = p.feed_ph;
  start_probes(s, p);
  return s;
}

}  // namespace

Tent::Tent(const SimulationSetup& setup, const Parameters& parameters, Weather weather,
           std::int64_t local_start_s)
    : parameters_(parameters),
      hydraulics_(parameters),
      weather_(std::move(weather)),
      seed_(setup.seed),
      local_start_s_(local_start_s),
      state_(start_state(parameters_, weather_.at(0))) {
  for (const OutputInfo& row : kOutputs) outputs_[row.output] = row.safe;
  script(setup);
  surround();
  act();
  contacts_ = contacts_of(state_);
  tell_truth();
}

void Tent::script(const SimulationSetup& setup) {
  for (const ScriptedFault& row : setup.faults) {
    const std::size_t fault = *fault_index(row.fault);
    script_.push_back({steps_before(row.at), fault, true, row.severity});
    if (row.lasts > Millis{0})
      script_.push_back({steps_before(row.at + row.lasts), fault, false, row.severity});
  }
  std::stable_sort(script_.begin(), script_.end(),
                   [](const Scripted& a, const Scripted& b) { return a.at_step < b.at_step; });
}

void Tent::set_fault(std::size_t fault, bool active, double severity) {
  if (active && static_cast<TentFault>(fault) == TentFault::canopy_sensor_frozen)
    frozen_ = air_said(state_, parameters_, seed_, Place::canopy);
  if (!active && state_.faults.active[fault] && wets_the_floor(fault)) mop(state_);
  state_.faults.active[fault] = active;
  state_.faults.severity[fault] = active ? severity : 0;
  act();
}

World::FaultAnswer Tent::inject(std::string_view fault, bool active, double severity) {
  const std::scoped_lock lock(mutex_);
  const std::string objection = fault_objection(fault, severity);
  if (!objection.empty()) return {false, objection};
  const std::size_t index = *fault_index(fault);
  set_fault(index, active, severity);
  return {true, std::string(kTentFaults[index].meaning)};
}

std::span<const World::FaultName> Tent::fault_names() const { return kTentFaults; }

// The outputs as they act, with the faults that stand between command and effect.
void Tent::act() {
  const FaultsNow& f = state_.faults;
  const auto level = [&](Output o) { return outputs_[o].value / 1000.0; };
  Acting a;
  a.pump = (level(Output::pump) > 0 || f[TentFault::pump_welded]) && !f[TentFault::pump_dead];
  if (f[TentFault::pump_weak]) a.pump_strength = 1 - 0.7 * f.severity_of(TentFault::pump_weak);
  if (f[TentFault::drain_slow]) a.drain_opening = 1 - 0.9 * f.severity_of(TentFault::drain_slow);
  if (f[TentFault::drain_blocked]) a.drain_opening = 0;
  a.valve_open = level(Output::drain_valve) > 0;
  a.hose_whole = !f[TentFault::hose_burst];
  a.standpipe_free = !f[TentFault::standpipe_blocked];
  if (f[TentFault::leak])
    a.leak_kg_s = 0.005 / 60 * std::pow(1000.0, f.severity_of(TentFault::leak));
  a.fan = f[TentFault::fan_dead] ? 0.0 : level(Output::exhaust_fan);
  a.light = f[TentFault::light_dead]       ? 0.0
            : f[TentFault::light_stuck_on] ? 1.0
                                           : level(Output::light);
  a.circulation = level(Output::circulation_fan) > 0 && !f[TentFault::circulation_fan_dead];
  a.dehumidifier = level(Output::dehumidifier) > 0 && !f[TentFault::dehumidifier_dead];
  a.humidifier = level(Output::humidifier) > 0 && !f[TentFault::humidifier_dead];
  acting_ = a;
  state_.photons = canopy_photons(parameters_, a.light);
}

// Weather, growth and what follows from them.
void Tent::surround() {
  const auto elapsed = static_cast<double>(state_.steps);
  const Surroundings around = weather_.at(elapsed);
  state_.building_c = around.building_c;
  state_.building_w = around.building_w;
  state_.outdoor_c = around.outdoor_c;
  state_.outdoor_kpa = around.outdoor_kpa;
  if (around.room_c) state_.room_c = *around.room_c;
  if (around.room_w) state_.room_w = *around.room_w;
  state_.leaf_area =
      std::clamp(parameters_.leaf_area_index +
                     parameters_.leaf_area_per_day * elapsed / static_cast<double>(kDaySeconds),
                 0.0, std::max(parameters_.leaf_area_most, parameters_.leaf_area_index));
}

// One second. True when a contact changed.
bool Tent::step() {
  while (script_next_ < script_.size() && script_[script_next_].at_step <= state_.steps) {
    const Scripted& row = script_[script_next_++];
    set_fault(row.fault, row.active, row.severity);
  }
  if (state_.steps % kSurroundEvery == 0) surround();
  if ((local_start_s_ + state_.steps) % kDaySeconds == kGrowerComes)
    simulated::grower_round(state_, parameters_);
  const bool splash = step_water(state_, parameters_, hydraulics_, acting_);
  state_.floats.bucket_full = state_.faults[TentFault::bucket_full] ||
                              (parameters_.dehumidifier_bucket_l > 0 &&
                               state_.bucket_kg >= parameters_.dehumidifier_bucket_l);
  step_climate(state_, parameters_, acting_, splash, weather_.room_is_recorded());
  step_probes(state_, parameters_, acting_.circulation);
  ++state_.steps;
  const Contacts now = contacts_of(state_);
  const bool edge = now != contacts_;
  contacts_ = now;
  return edge;
}

Instant Tent::advance_locked(Instant target, bool& edge) {
  if (!origin_) origin_ = now_ = target;
  if (target <= *now_) return *now_;
  while (true) {
    const Instant next = *origin_ + kGrid * (state_.steps + 1);
    if (next > target) break;
    if (step()) {
      edge = true;
      now_ = next;
      tell_truth();
      return next;
    }
  }
  now_ = target;
  tell_truth();
  return target;
}

Instant Tent::advance_to(Instant target) {
  std::vector<std::pair<int, std::function<void()>>> told;
  Instant reached;
  {
    const std::scoped_lock lock(mutex_);
    bool edge = false;
    reached = advance_locked(target, edge);
    if (edge) told = listeners_;
  }
  for (const auto& [number, on_edge] : told) on_edge();
  return reached;
}

void Tent::write(Output output, Permille level) {
  const std::scoped_lock lock(mutex_);
  outputs_[output] = level;
  act();
}

Permille Tent::written(Output output) const {
  const std::scoped_lock lock(mutex_);
  return outputs_[output];
}

AirSaid Tent::air(Place place) const {
  const std::scoped_lock lock(mutex_);
  const bool frozen = place == Place::canopy && state_.faults[TentFault::canopy_sensor_frozen];
  return frozen && frozen_ ? *frozen_ : air_said(state_, parameters_, seed_, place);
}

Said Tent::leaf() const {
  const std::scoped_lock lock(mutex_);
  return leaf_said(state_, parameters_, seed_);
}

SolutionSaid Tent::solution() const {
  const std::scoped_lock lock(mutex_);
  return solution_said(state_, seed_);
}

Said Tent::level() const {
  const std::scoped_lock lock(mutex_);
  return level_said(state_, parameters_, seed_);
}

Said Tent::light() const {
  const std::scoped_lock lock(mutex_);
  return light_said(state_, seed_);
}

Contacts Tent::contacts() const {
  const std::scoped_lock lock(mutex_);
  return contacts_;
}

int Tent::listen(std::function<void()> on_edge) {
  const std::scoped_lock lock(mutex_);
  listeners_.emplace_back(next_listener_, std::move(on_edge));
  return next_listener_++;
}

void Tent::forget(int listener) {
  const std::scoped_lock lock(mutex_);
  std::erase_if(listeners_, [&](const auto& row) { return row.first == listener; });
}

void Tent::tell_truth() {
  const State& s = state_;
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
  truth_ = t;
}

std::unique_ptr<Tent> make_tent(const SimulationSetup& setup, std::int64_t start_unix_ms,
                                int utc_offset_s, std::string& error) {
  const Parameters parameters = simulated::parameters_from(setup.parameters, error);
  if (!error.empty()) return nullptr;
  for (const ScriptedFault& row : setup.faults) {
    error = fault_objection(row.fault, row.severity);
    if (error.empty() && (row.at < Millis{0} || row.lasts < Millis{0}))
      error = "fault " + row.fault + " starts or lasts less than 0 s; give times from the start on";
    if (error.empty()) continue;
    error = "simulation.faults: " + error;
    return nullptr;
  }
  const std::int64_t local_start_s = floor_div(start_unix_ms, 1000) + utc_offset_s;
  Weather weather = Weather::make(setup, parameters, local_start_s, error);
  if (!error.empty()) return nullptr;
  return std::make_unique<Tent>(setup, parameters, std::move(weather), local_start_s);
}

}  // namespace neap::drivers
