#include "drivers/simulated/appliances.h"

#include <algorithm>

#include "drivers/simulated/moist_air.h"
#include "drivers/simulated/water.h"

namespace neap::drivers::simulated {
namespace {

constexpr double kApplianceSeconds = 180.0;  // its metal; an assumption
constexpr double kCompressorStops = 40.0;    // s; an assumption
constexpr double kPeltierStarts = 20.0;      // s, a small plate; an assumption
constexpr double kCoilDries = 1500.0;        // s kPa; an assumption
constexpr double kThermostatBand = 0.5;      // K to each side; common practice, no source
constexpr double kRatedC = 26.7;
constexpr double kRatedPercent = 60.0;

bool is_peltier(const Parameters& p) { return p.dehumidifier_kind == 1; }

struct Working {
  double taken_kg_s = 0;
  double electric_w = 0;
};

// At full run-up.
Working works_at(const Parameters& p, double celsius, double vapour) {
  const double percent = std::min(100.0, 100 * vapour / saturation_kpa(celsius));
  const double frost = std::clamp((celsius - 4) / 11, 0.2, 1.0);
  const double rated = p.dehumidifier_l_per_day / 86400;
  if (is_peltier(p))
    return {rated * frost * peltier_capacity_factor(celsius, percent, p.peltier_plate_k),
            rated * 3.6e6 / p.peltier_l_per_kwh};
  const double most = rated * frost * dehumidifier_capacity_factor(celsius, percent);
  return {most, most * 3.6e6 /
                    (p.dehumidifier_l_per_kwh * dehumidifier_efficiency_factor(celsius, percent))};
}

double ratio_over_plate(double celsius, double percent, double plate_k) {
  return humidity_ratio(percent / 100 * saturation_kpa(celsius)) -
         humidity_ratio(saturation_kpa(celsius - plate_k));
}

// Water on the coil, then into the bucket or down a hose.
void collect(State& s, const Parameters& p, double arrives_kg) {
  s.coil_kg += arrives_kg;
  const double holds = is_peltier(p) ? 0.0 : p.dehumidifier_coil_g / 1000;
  const double falls = std::max(0.0, s.coil_kg - holds);
  s.coil_kg -= falls;
  if (p.dehumidifier_bucket_l > 0) s.bucket_kg += falls;
  if (p.dehumidifier_bucket_l <= 0) s.ledger.water_in_kg -= falls;
}

// Runs until half a band beyond the wish, then rests until half a band short of it.
bool thermostat(bool runs, double short_by_k) {
  return short_by_k > (runs ? -kThermostatBand : kThermostatBand);
}

void heat_air(State& s, const Parameters& p, double seconds, Inflow& tent) {
  if (p.air_heater_w <= 0) return;
  s.air_heater_on = thermostat(s.air_heater_on, p.air_heater_c - s.air_c);
  if (!s.air_heater_on) return;
  const double joules = p.air_heater_w * seconds;
  tent.heat_j += joules;
  s.ledger.heat_in_j += joules;
  s.ledger.heater_j += joules;
}

void heat_water(State& s, const Parameters& p, const Acting& a, double seconds) {
  if (p.water_heater_w <= 0) return;
  s.water_heater_on = s.heater_commanded
                          ? a.water_heater
                          : thermostat(s.water_heater_on, p.water_heater_c - s.reservoir_c);
  if (!s.water_heater_on) return;
  const double joules = p.water_heater_w * seconds;
  s.reservoir_c += joules / reservoir_heat(s);
  s.ledger.heat_in_j += joules;
  s.ledger.heater_j += joules;
}

void chill_water(State& s, const Parameters& p, const Acting& a, double seconds, Inflow& tent,
                 Inflow& room) {
  if (p.water_chiller_w <= 0) return;
  s.water_chiller_on = s.chiller_commanded
                           ? a.water_chiller
                           : thermostat(s.water_chiller_on, s.reservoir_c - p.water_chiller_c);
  if (!s.water_chiller_on) return;
  const double drawn = p.water_chiller_w * seconds;
  const double electric = drawn / p.water_chiller_cop;
  s.reservoir_c -= drawn / reservoir_heat(s);
  s.ledger.heat_in_j -= drawn;
  s.ledger.chiller_j += electric;
  const bool outside = p.water_chiller_in_room == 1;
  (outside ? room : tent).heat_j += drawn + electric;
  if (!outside) s.ledger.heat_in_j += drawn + electric;
}

}  // namespace

double dehumidifier_capacity_factor(double t, double r) {
  return std::max(0.0, -1.162525707 + 0.02271469 * t - 1.13208e-4 * t * t + 0.021110538 * r -
                           6.93034e-5 * r * r + 3.78843e-4 * t * r);
}

double dehumidifier_efficiency_factor(double t, double r) {
  return std::max(0.3, -1.902154518 + 0.063466565 * t - 6.22839e-4 * t * t + 0.039540407 * r -
                           1.25637e-4 * r * r - 1.76722e-4 * t * r);
}

double peltier_capacity_factor(double celsius, double percent, double plate_k) {
  return std::max(0.0, ratio_over_plate(celsius, percent, plate_k) /
                           ratio_over_plate(kRatedC, kRatedPercent, plate_k));
}

void step_dehumidifier(State& s, const Parameters& p, const Acting& a, double seconds, Inflow& tent,
                       Inflow& room) {
  const bool outside = p.dehumidifier_in_room == 1;
  Inflow& air = outside ? room : tent;
  const double celsius = outside ? s.room_c : s.air_c;
  const double vapour = vapour_kpa(outside ? s.room_w : s.air_w);
  const bool runs = a.dehumidifier && !s.floats.bucket_full;
  const double starts = is_peltier(p) ? kPeltierStarts : p.dehumidifier_run_up_s;
  const double stops = is_peltier(p) ? kPeltierStarts : kCompressorStops;
  s.run_up += seconds * ((runs ? 1.0 : 0.0) - s.run_up) / (runs ? starts : stops);
  Working working;
  if (runs || s.run_up > 0.001) working = works_at(p, celsius, vapour);
  const double taken = working.taken_kg_s * s.run_up * seconds;
  const double electric = runs ? working.electric_w * seconds : 0.0;
  double dries = 0;
  if (!runs && s.coil_kg > 0) {
    const double deficit = std::max(0.0, saturation_kpa(celsius) - vapour);
    dries = std::min(s.coil_kg, seconds * s.coil_kg * deficit / kCoilDries);
  }
  collect(s, p, taken - dries);
  s.ledger.dehumidified_kg += taken - dries;
  s.ledger.dehumidifier_j += electric;
  const double released = seconds * s.appliance_j / kApplianceSeconds;
  s.appliance_j += electric + kVaporisation * taken - released;
  air.heat_j += released - kVaporisation * dries;
  air.vapour_kg += dries - taken;
  s.ledger.heat_in_j += outside ? 0.0 : electric + kVaporisation * (taken - dries);
}

void step_thermostats(State& s, const Parameters& p, const Acting& a, double seconds, Inflow& tent,
                      Inflow& room) {
  heat_air(s, p, seconds, tent);
  heat_water(s, p, a, seconds);
  chill_water(s, p, a, seconds, tent, room);
}

}  // namespace neap::drivers::simulated
