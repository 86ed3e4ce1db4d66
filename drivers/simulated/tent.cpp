#include "drivers/simulated/tent.h"

#include <algorithm>

#include "drivers/simulated/water.h"

namespace neap::drivers {

using simulated::AirSaid;
using simulated::Contacts;
using simulated::contacts_of;
using simulated::kTentFaultCount;
using simulated::kTentFaults;
using simulated::Parameters;
using simulated::Place;
using simulated::Said;
using simulated::SolutionSaid;
using simulated::TentFault;
using simulated::Weather;

namespace {

constexpr Millis kGrid = seconds{1};

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

}  // namespace

Tent::Tent(const SimulationSetup& setup, const Parameters& parameters, Weather weather,
           std::int64_t local_start_s)
    : plant_(parameters, std::move(weather), local_start_s),
      seed_(setup.seed),
      state_(plant_.start()) {
  for (const OutputInfo& row : kOutputs) outputs_[row.output] = row.safe;
  script(setup);
  act();
  contacts_ = contacts_of(state_);
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
    frozen_ = air_said(state_, plant_.parameters(), seed_, Place::canopy);
  if (!active && state_.faults.active[fault] && wets_the_floor(fault)) mop(state_);
  if (static_cast<TentFault>(fault) == TentFault::bus_stuck) state_.bus_stuck = active;
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

void Tent::act() { acting_ = plant_.act(state_, outputs_); }

void Tent::coast_by(int seconds) {
  const std::scoped_lock lock(mutex_);
  coast_s_ = seconds;
}

// One second, or up to `most` where it may coast. True when a contact changed.
bool Tent::step(std::int64_t most) {
  while (script_next_ < script_.size() && script_[script_next_].at_step <= state_.steps) {
    const Scripted& row = script_[script_next_++];
    set_fault(row.fault, row.active, row.severity);
  }
  if (script_next_ < script_.size())
    most = std::min(most, script_[script_next_].at_step - state_.steps);
  most = std::min<std::int64_t>(most, coast_s_);
  if (most > 1 && plant_.is_still(state_, acting_))
    plant_.coast(state_, acting_, static_cast<int>(most));
  else
    plant_.step(state_, acting_);
  const Contacts now = contacts_of(state_);
  const bool edge = now != contacts_;
  contacts_ = now;
  return edge;
}

Instant Tent::advance_locked(Instant target, bool& edge) {
  if (!origin_) origin_ = now_ = target;
  if (target <= *now_) return *now_;
  while (true) {
    const std::int64_t left = (target - *origin_) / kGrid - state_.steps;
    if (left < 1) break;
    if (step(left)) {
      edge = true;
      now_ = *origin_ + kGrid * state_.steps;
      return *now_;
    }
  }
  now_ = target;
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

void Tent::fit_second_contact() {
  const std::scoped_lock lock(mutex_);
  state_.second_contact = true;
  act();
}

void Tent::command_water(Output output) {
  const std::scoped_lock lock(mutex_);
  (output == Output::water_heater ? state_.heater_commanded : state_.chiller_commanded) = true;
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
  return frozen && frozen_ ? *frozen_ : air_said(state_, plant_.parameters(), seed_, place);
}

Said Tent::leaf() const {
  const std::scoped_lock lock(mutex_);
  return leaf_said(state_, plant_.parameters(), seed_);
}

SolutionSaid Tent::solution() const {
  const std::scoped_lock lock(mutex_);
  return solution_said(state_, seed_);
}

Said Tent::level() const {
  const std::scoped_lock lock(mutex_);
  return level_said(state_, plant_.parameters(), seed_);
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
