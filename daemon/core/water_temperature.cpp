#include "daemon/core/water_temperature.h"

#include <array>

#include "daemon/core/asks.h"
#include "daemon/core/schedule.h"

namespace neap {
namespace {

// A probe's noise must not make the water hot and not by turns (choice).
constexpr Celsius kHotHysteresis{1.0};

struct Device {
  Output output;
  Output other;
  double sense;  // of what it does to the temperature
  Reason runs;
};
constexpr std::array kDevices{
    Device{Output::water_heater, Output::water_chiller, +1, Reason::water_warmed},
    Device{Output::water_chiller, Output::water_heater, -1, Reason::water_cooled},
};

Demand asks(const Device& device, Permille level, Because why) {
  return {device.output, level, Precedence::loop, why};
}

Demand wish(const Plan& plan, const State& state, const Device& device) {
  const auto stop = [&](Because why) { return asks(device, kStopped, why); };
  const StagePlan& stage = stage_in_force(plan, state);
  if (stage.fallow) return stop(because(Reason::water_fallow));
  const auto& band = stage.solution[static_cast<std::size_t>(Hand::temperature)];
  if (!band) return stop(because(Reason::water_no_band));
  const bool runs = level_of(plan, state, device.output) > kStopped;
  const Reading<double>& water = state.points[Point::solution_temperature].reading;
  // A held value goes on with what runs, and starts nothing.
  if (!water || (!runs && water.quality() != Quality::good))
    return stop(because(Reason::water_no_reading));
  const double edge = device.sense > 0 ? band->low : band->high;
  const double target = edge + device.sense * plan.water.differential.value;
  const double until = runs ? target : edge;
  if (device.sense * (until - *water) <= 0)
    return stop(because(Reason::water_in_band, *water, band->low, band->high));
  if (const Because waits = other_tempers(plan, state, device.output); waits.reason != Reason::none)
    return stop(waits);
  return asks(device, kRunning, because(device.runs, *water, edge, target));
}

}  // namespace

WaterSeen water_seen(const Plan& plan, const State& state) {
  const Reading<double>& water = state.points[Point::solution_temperature].reading;
  if (!water) return WaterSeen::unknown;
  const bool was_hot = state.kernel_inputs.water == WaterSeen::hot;
  const Celsius limit = plan.water.hottest - (was_hot ? kHotHysteresis : Celsius{0});
  return Celsius{*water} >= limit ? WaterSeen::hot : WaterSeen::normal;
}

void ask_water(const Plan& plan, const State& state, Demands& demands) {
  for (const Device& device : kDevices)
    if (plan.outputs[device.output]) demands.push(wish(plan, state, device));
}

Because other_tempers(const Plan& plan, const State& state, Output output) {
  for (const Device& device : kDevices) {
    if (device.output != output) continue;
    const Hold& hold = state.holds[device.other];
    const bool held = hold.active && hold.level > kStopped;
    if (held || level_of(plan, state, device.other) > kStopped)
      return because(Reason::water_other_runs, static_cast<double>(slot(device.other)));
  }
  return {};
}

Range watched_water(const Plan& plan, Range band) {
  const double passed = plan.water.differential.value;
  if (drives(plan, Output::water_heater)) band.low -= passed;
  if (drives(plan, Output::water_chiller)) band.high += passed;
  return band;
}

}  // namespace neap
