#include "drivers/simulated/probes.h"

#include <algorithm>
#include <cmath>

#include "drivers/simulated/moist_air.h"
#include "drivers/simulated/noise.h"
#include "drivers/simulated/water.h"

namespace neap::drivers::simulated {
namespace {

constexpr double kStillMixing = 3.0;     // mixing takes longer without circulation; an assumption
constexpr double kRoomLag = 60.0;        // s
constexpr double kLeafLag = 10.0;        // s, infrared
constexpr double kSolutionLag = 90.0;    // s, probe in its sheath
constexpr double kLevelLag = 5.0;        // s
constexpr double kLeafNoise = 0.15;      // K
constexpr double kSolutionNoise = 0.05;  // K
constexpr double kPhNoise = 0.01;
constexpr double kEcNoise = 0.005;      // mS/cm
constexpr double kLuxPerPhoton = 70.0;  // white LED, lx per umol/m2s; about 65 to 75
constexpr double kWildCelsius = 40.0;
constexpr double kDriftMost = 8.0;  // % relative humidity

// Channels of the noise, one a signal; two numbers each (noise.h).
enum NoiseChannel : std::uint64_t {
  kAirCelsius = 10,  // plus the place
  kAirPercent = 20,
  kDropout = 30,
  kWildness = 40,
  kLeaf = 50,
  kSolution,
  kPh,
  kEc,
  kLevel,
  kLevelDropout,
  kLight,
};

double quantised(double value, double quantum) { return std::round(value / quantum) * quantum; }

void follow(double& state, double target, double seconds) { state += (target - state) / seconds; }

void follow_air(AirProbe& probe, const Parameters& p, double mixing, double celsius, double kpa) {
  follow(probe.mixed_c, celsius, mixing);
  follow(probe.mixed_kpa, kpa, mixing);
  follow(probe.celsius, probe.mixed_c, p.sensor_lag_temperature_s);
  follow(probe.vapour_kpa, probe.mixed_kpa, p.sensor_lag_humidity_s);
}

AirSaid silent() { return {{std::nullopt, Fault::no_answer}, {std::nullopt, Fault::no_answer}}; }

bool drops_out(const State& s, const Parameters& p, std::uint64_t seed, std::uint64_t channel) {
  return uniform(seed, channel, s.steps) < p.sensor_dropout;
}

// The canopy probe's faults, over a sound reading.
void spoil_canopy(AirSaid& said, const State& s, std::uint64_t seed) {
  if (s.faults[TentFault::canopy_sensor_drift])
    *said.humidity.value += kDriftMost * s.faults.severity_of(TentFault::canopy_sensor_drift);
  if (s.faults[TentFault::canopy_humidity_saturated]) said.humidity.value = 100.0;
  if (!s.faults[TentFault::canopy_sensor_wild]) return;
  *said.temperature.value += kWildCelsius * (uniform(seed, kWildness, s.steps) - 0.5);
  said.humidity.value = 120.0 * uniform(seed, kWildness + 1, s.steps);
}

}  // namespace

void start_probes(State& s, const Parameters& p) {
  const double kpa = vapour_kpa(s.air_w);
  s.canopy = {s.air_c, kpa, s.air_c, kpa};
  const double b_c = s.air_c + p.canopy_b_warmer_c;
  const double b_kpa = kpa * p.canopy_b_vapour_factor;
  s.canopy_b = {b_c, b_kpa, b_c, b_kpa};
  const double room_kpa = vapour_kpa(s.room_w);
  s.room = {s.room_c, room_kpa, s.room_c, room_kpa};
  s.leaf_probe_c = s.leaf_c;
  s.solution_probe_c = s.reservoir_c;
  s.level_probe_l = s.reservoir_kg;
}

void step_probes(State& s, const Parameters& p, bool circulation) {
  const double mixing = p.sensor_mixing_s * (circulation ? 1.0 : kStillMixing);
  const double kpa = vapour_kpa(s.air_w);
  follow_air(s.canopy, p, mixing, s.air_c, kpa);
  follow_air(s.canopy_b, p, mixing, s.air_c + p.canopy_b_warmer_c, kpa * p.canopy_b_vapour_factor);
  follow_air(s.room, p, kRoomLag, s.room_c, vapour_kpa(s.room_w));
  follow(s.leaf_probe_c, s.leaf_c, kLeafLag);
  follow(s.solution_probe_c, s.reservoir_c, kSolutionLag);
  follow(s.level_probe_l, s.reservoir_kg, kLevelLag);
}

AirSaid air_said(const State& s, const Parameters& p, std::uint64_t seed, Place place) {
  const auto offset = static_cast<std::uint64_t>(place);
  const bool canopy = place == Place::canopy;
  if (drops_out(s, p, seed, kDropout + offset)) return silent();
  if (place != Place::outdoor && (s.bus_stuck || !s.sensors_powered)) return silent();
  if (canopy && s.faults[TentFault::canopy_sensor_silent]) return silent();
  if (place == Place::room && s.faults[TentFault::room_sensor_silent]) return silent();
  const AirProbe outdoor{0, 0, s.outdoor_c, s.outdoor_kpa};
  const AirProbe& probe = canopy                     ? s.canopy
                          : place == Place::canopy_b ? s.canopy_b
                          : place == Place::room     ? s.room
                                                     : outdoor;
  const double celsius =
      probe.celsius + p.sensor_noise_c * gaussian(seed, kAirCelsius + offset, s.steps);
  const double percent = 100 * probe.vapour_kpa / saturation_kpa(probe.celsius) +
                         (canopy ? p.canopy_humidity_bias_pct : 0.0) +
                         p.sensor_noise_pct * gaussian(seed, kAirPercent + offset, s.steps);
  AirSaid said;
  said.temperature.value = quantised(celsius, 0.01);
  said.humidity.value = percent;
  if (canopy) spoil_canopy(said, s, seed);
  // The chip's own end stops, as its data sheet has them; a wild one knows none.
  if (!canopy || !s.faults[TentFault::canopy_sensor_wild])
    said.humidity.value = std::clamp(*said.humidity.value, 0.0, 100.0);
  said.humidity.value = quantised(*said.humidity.value, 0.01);
  return said;
}

Said leaf_said(const State& s, const Parameters& p, std::uint64_t seed) {
  if (drops_out(s, p, seed, kDropout + 8)) return {std::nullopt, Fault::no_answer};
  return {quantised(s.leaf_probe_c + kLeafNoise * gaussian(seed, kLeaf, s.steps), 0.01),
          Fault::none};
}

SolutionSaid solution_said(const State& s, std::uint64_t seed) {
  SolutionSaid said;
  if (s.faults[TentFault::solution_sensor_silent]) {
    said.temperature.fault = said.ph.fault = said.ec.fault = Fault::no_answer;
    return said;
  }
  said.temperature.value =
      quantised(s.solution_probe_c + kSolutionNoise * gaussian(seed, kSolution, s.steps), 0.01);
  said.ph.value = quantised(s.ph + kPhNoise * gaussian(seed, kPh, s.steps), 0.01);
  said.ec.value =
      quantised(std::max(0.0, solution_ec(s) + kEcNoise * gaussian(seed, kEc, s.steps)), 0.001);
  return said;
}

Said level_said(const State& s, const Parameters& p, std::uint64_t seed) {
  if (s.faults[TentFault::level_sensor_silent] || drops_out(s, p, seed, kLevelDropout))
    return {std::nullopt, Fault::no_answer};
  const double litres = s.level_probe_l + p.level_noise_l * gaussian(seed, kLevel, s.steps);
  return {quantised(std::max(0.0, litres), 0.01), Fault::none};
}

Said light_said(const State& s, std::uint64_t seed) {
  const double lux = kLuxPerPhoton * s.photons * (1 + 0.01 * gaussian(seed, kLight, s.steps));
  return {std::round(std::max(0.0, lux)), Fault::none};
}

Contacts contacts_of(const State& s) {
  const auto as_contact = [](bool is_set) { return is_set ? Contact::set : Contact::clear; };
  const FaultsNow& f = s.faults;
  Contact floor = as_contact(s.floats.leak_floor);
  if (f[TentFault::leak_probe_damp] && floor == Contact::clear) floor = Contact::damp;
  if (f[TentFault::leak_probe_open]) floor = Contact::faulty;
  const bool bounces = f[TentFault::tray_float_bounces] && s.steps % 2 != 0;
  const bool full = (s.floats.tray_full != bounces || f[TentFault::tray_float_stuck_set]) &&
                    !f[TentFault::tray_float_stuck_clear];
  return {as_contact(full), as_contact(s.floats.tray_high), as_contact(s.floats.tray_wet),
          // Set while water lifts the float: a broken wire then reads as an empty reservoir.
          as_contact(!s.floats.reservoir_low || f[TentFault::reservoir_float_stuck]), floor,
          as_contact(s.floats.leak_rack), as_contact(s.floats.leak_reservoir),
          as_contact(s.floats.pump_running), as_contact(s.floats.bucket_full),
          as_contact(s.floats.air_pump_running), as_contact(s.floats.board_undervoltage),
          as_contact(!f[TentFault::pump_switch_hand] && !f[TentFault::pump_switch_off]),
          as_contact(f[TentFault::button_pressed])};
}

}  // namespace neap::drivers::simulated
