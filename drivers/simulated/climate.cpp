#include "drivers/simulated/climate.h"

#include <algorithm>
#include <cmath>

#include "drivers/simulated/moist_air.h"
#include "drivers/simulated/water.h"

namespace neap::drivers::simulated {
namespace {

constexpr double kCapture = 0.85;        // light that falls on the ground area; an assumption
constexpr double kAbsorbed = 0.88;       // of that by a leaf; an assumption
constexpr double kRestToSurfaces = 0.7;  // radiation that misses leaves; the rest meets the tray
constexpr double kStillAir = 1.6;        // leaf resistance without circulation; an assumption
constexpr double kLeafAreaActive = 3.0;  // deeper leaves are shaded; Graamans et al. 2017
constexpr double kClosureKpa = 1.5;      // Leuning 1995, D0
constexpr double kTrayFilm = 6.0;        // W/m2K, tray to air
constexpr double kFilmHolds = 0.05;      // kg/m2 on a wall before it drips
constexpr double kSorptionSeconds = 600.0;
constexpr double kFogSeconds = 10.0;      // excess over saturation falls out
constexpr double kWetnessFades = 2400.0;  // s
constexpr double kSurfaceWater = 0.12;    // kg/m2 on a flooded medium
constexpr double kApplianceSeconds = 180.0;
constexpr double kRunDown = 40.0;       // s, compressor
constexpr double kCoilDries = 1500.0;   // s kPa
constexpr double kRoomBuffer = 3600.0;  // s
constexpr double kRoomGlass = 0.5;      // kg/s a kg/kg: cold surfaces of the room

// What flows into a body of air in this step.
struct Inflow {
  double heat_w = 0;
  double vapour_kg_s = 0;
};

void leaves(State& s, const Parameters& p, const Acting& a, const LeafAir& air, Inflow& tent) {
  const double water_left = std::min(1.0, (s.medium_kg + s.tray_kg) / (0.2 * p.medium_capacity_l));
  LeafFluxes leaf = leaf_fluxes(p, s.leaf_area, canopy_radiation_w(p, a.light), s.photons,
                                a.circulation, water_left, air);
  leaf.vapour_kg_s = std::min(leaf.vapour_kg_s, s.medium_kg + s.tray_kg);
  s.leaf_c = s.air_c + leaf.warmer_k;
  tent.heat_w += leaf.heat_w;
  tent.vapour_kg_s += leaf.vapour_kg_s;
  s.ledger.heat_in_j += canopy_radiation_w(p, a.light) - kVaporisation * leaf.vapour_kg_s;
  s.ledger.transpired_kg += leaf.vapour_kg_s;
  s.salt = std::max(0.0, s.salt - p.uptake_ec * leaf.vapour_kg_s);
  s.ph = std::min(8.5, s.ph + p.ph_rise_per_l * leaf.vapour_kg_s);
  take_from_medium(s, leaf.vapour_kg_s);
}

void medium(State& s, const Parameters& p, const Acting& a, const LeafAir& air, bool splash,
            Inflow& tent) {
  const double still = 1000 * p.evaporation_w_m2_pa / kVaporisation;  // kg/(m2 s kPa)
  const double open = p.medium_open_dry + (p.medium_open_wet - p.medium_open_dry) * s.wetness;
  const double deficit = std::max(0.0, saturation_kpa(s.medium_c) - air.vapour_kpa);
  const double dries = std::min(s.medium_kg + s.tray_kg, still * p.tray_area_m2 * open * deficit *
                                                             (splash ? p.splash_factor : 1.0));
  s.wetness = std::max(
      0.0, s.wetness - dries / (kSurfaceWater * p.tray_area_m2) - s.wetness / kWetnessFades);
  const double lid =
      std::min(s.reservoir_kg, p.reservoir_lid_ml_h / 3.6e6 / 1.2 *
                                   std::max(0.0, saturation_kpa(s.reservoir_c) - air.vapour_kpa));
  tent.vapour_kg_s += dries + lid;
  s.ledger.evaporated_kg += dries + lid;
  s.ledger.heat_in_j -= kVaporisation * (dries + lid) + kWaterHeat * lid * s.reservoir_c;
  const double to_air = kTrayFilm * p.tray_area_m2 * (s.medium_c - s.air_c);
  const double light = a.light * p.light_w * p.light_radiant - canopy_radiation_w(p, a.light);
  const double lit = (1 - kRestToSurfaces) * light;
  s.ledger.heat_in_j += lit;
  s.medium_c += (lit - to_air - kVaporisation * dries) / medium_heat(s, p);
  const double from_reservoir = p.reservoir_w_k * (s.reservoir_c - s.air_c);
  s.reservoir_c -= (from_reservoir + kVaporisation * lid) / reservoir_heat(s);
  tent.heat_w += to_air + from_reservoir;
  s.reservoir_kg -= lid;
  take_from_medium(s, dries);
}

// Walls, poles and fixture: light, convection both ways, and water by the Lewis relation.
void surfaces(State& s, const Parameters& p, const Acting& a, Inflow& tent, Inflow& room) {
  const double missed = a.light * p.light_w * p.light_radiant - canopy_radiation_w(p, a.light);
  const double longwave = a.light * p.light_w * (1 - p.light_radiant - p.light_convective);
  const double inside = p.wall_inside_w_m2k * p.wall_area_m2;
  const double outside = p.wall_outside_w_m2k * p.wall_area_m2 * (s.surface_c - s.room_c);
  const double to_air = inside * (s.surface_c - s.air_c);
  const double wall_w = humidity_ratio(saturation_kpa(s.surface_c));
  const double reach = inside / (2 * kAirHeat) * (s.air_w - wall_w);
  const double settles = std::max(reach, -s.film_kg);
  s.film_kg += settles;
  s.ledger.condensed_kg += std::max(0.0, settles);
  const double light_in = kRestToSurfaces * missed + longwave;
  s.ledger.heat_in_j += light_in - outside + kVaporisation * settles;
  s.surface_c +=
      (light_in - to_air - outside + kVaporisation * settles) / (1000 * p.surface_heat_kj_k);
  tent.heat_w += to_air;
  tent.vapour_kg_s -= settles;
  room.heat_w += outside;
  const double drips = s.film_kg - kFilmHolds * p.wall_area_m2;
  if (drips > 0) {
    s.film_kg -= drips;
    s.tray_kg += drips;
    s.ledger.heat_in_j += kWaterHeat * drips * s.medium_c;
  }
}

// The appliance stands in the tent or in the room; its heat comes a few minutes late, its coil
// gives water back when it stops (Shirey and Henderson 2004).
void dehumidifier(State& s, const Parameters& p, const Acting& a, Inflow& tent, Inflow& room) {
  const bool outside = p.dehumidifier_in_room == 1;
  Inflow& air = outside ? room : tent;
  const double celsius = outside ? s.room_c : s.air_c;
  const double vapour = vapour_kpa(outside ? s.room_w : s.air_w);
  const bool full = s.floats.bucket_full;
  const bool runs = a.dehumidifier && !full;
  s.run_up += ((runs ? 1.0 : 0.0) - s.run_up) / (runs ? p.dehumidifier_run_up_s : kRunDown);
  double electric = 0;
  double taken = 0;
  if (runs || s.run_up > 0.001) {
    const double percent = std::min(100.0, 100 * vapour / saturation_kpa(celsius));
    const double frost = std::clamp((celsius - 4) / 11, 0.2, 1.0);
    const double most =
        p.dehumidifier_l_per_day / 86400 * frost * dehumidifier_capacity_factor(celsius, percent);
    taken = most * s.run_up;
    if (runs)
      electric = most * 3.6e6 /
                 (p.dehumidifier_l_per_kwh * dehumidifier_efficiency_factor(celsius, percent));
  }
  double dries = 0;
  if (!runs && s.coil_kg > 0) {
    const double deficit = std::max(0.0, saturation_kpa(celsius) - vapour);
    dries = std::min(s.coil_kg, s.coil_kg * deficit / kCoilDries);
  }
  s.coil_kg += taken - dries;
  const double falls = std::max(0.0, s.coil_kg - p.dehumidifier_coil_g / 1000);
  s.coil_kg -= falls;
  if (p.dehumidifier_bucket_l > 0) s.bucket_kg += falls;
  if (p.dehumidifier_bucket_l <= 0) s.ledger.water_in_kg -= falls;
  s.ledger.dehumidified_kg += taken - dries;
  s.ledger.dehumidifier_j += electric;
  const double released = s.appliance_w / kApplianceSeconds;
  s.appliance_w += electric + kVaporisation * taken - released;
  air.heat_w += released - kVaporisation * dries;
  air.vapour_kg_s += dries - taken;
  s.ledger.heat_in_j += outside ? 0.0 : electric + kVaporisation * (taken - dries);
}

// Air drawn from the room, and pushed back into it or out of the building.
void ventilate(State& s, const Parameters& p, const Acting& a, Inflow& tent, Inflow& room,
               double& room_draws_m3_h) {
  const double flow = air_flow_m3_h(p, a.fan, s.air_c - s.room_c);
  const double kg_s = kAirDensity * flow / 3600;
  const double heat = kg_s * kAirHeat * (s.air_c - s.room_c);
  const double vapour = kg_s * (s.air_w - s.room_w);
  tent.heat_w -= heat;
  tent.vapour_kg_s -= vapour;
  s.ledger.heat_in_j -= heat;
  if (p.exhaust_ducted_out == 1) {
    s.ledger.water_in_kg -= vapour;
    room_draws_m3_h += flow;
  } else {
    room.heat_w += heat;
    room.vapour_kg_s += vapour;
  }
}

void humidify_and_settle(State& s, const Parameters& p, const Acting& a, const LeafAir& air,
                         Inflow& tent) {
  const double mist = a.humidifier ? p.humidifier_g_per_h / 3.6e6 : 0.0;
  s.ledger.humidified_kg += mist;
  s.ledger.water_in_kg += mist;
  const double volume_kg = kAirDensity * p.tent_volume_m3;
  const double most = humidity_ratio(air.saturation_kpa);
  const double fog = std::max(0.0, volume_kg * (s.air_w - most) / kFogSeconds);
  s.film_kg += fog;
  s.ledger.condensed_kg += fog;
  const double held = p.sorption_factor * volume_kg;
  const double soaks = held > 0 ? held * (s.air_w - s.sorbed_w) / kSorptionSeconds : 0.0;
  if (held > 0) s.sorbed_w += soaks / held;
  tent.vapour_kg_s += mist - fog - soaks;
  tent.heat_w -= kVaporisation * (mist - fog);
  s.ledger.heat_in_j -= kVaporisation * (mist - fog);
}

void step_room(State& s, const Parameters& p, const Inflow& room, double draws_m3_h) {
  const double air_kg = kAirDensity * p.room_volume_m3;
  const double changed =
      kAirDensity * (p.room_air_changes_h * p.room_volume_m3 + draws_m3_h) / 3600;
  const double to_mass = p.room_mass_w_k * (s.room_c - s.room_mass_c);
  const double heat = room.heat_w - to_mass + changed * kAirHeat * (s.building_c - s.room_c);
  s.room_c += heat / (air_kg * kAirHeat);
  s.room_mass_c +=
      (to_mass - p.room_wall_w_k * (s.room_mass_c - s.building_c)) / (1000 * p.room_mass_kj_k);
  const double buffer_kg = p.room_moisture_factor * air_kg;
  const double soaks = buffer_kg * (s.room_w - s.room_buffer_w) / kRoomBuffer;
  const double drawn = changed * (s.building_w - s.room_w);
  const double panes =
      std::max(0.0, kRoomGlass * (s.room_w - humidity_ratio(saturation_kpa(s.room_mass_c - 1))));
  s.room_w += (room.vapour_kg_s + drawn - soaks - panes) / air_kg;
  s.room_buffer_w += soaks / buffer_kg;
  s.ledger.water_in_kg += drawn - panes;
}

}  // namespace

double air_flow_m3_h(const Parameters& p, double level, double warmer_k) {
  const double driven = level < 0.1 ? 0.0 : p.fan_max_m3h * (level - 0.1) / 0.9;
  const double leaks = p.leakage_m3h + 1.6 * std::sqrt(std::abs(warmer_k));
  return std::sqrt(driven * driven + leaks * leaks);
}

double dehumidifier_capacity_factor(double t, double r) {
  return std::max(0.0, -1.162525707 + 0.02271469 * t - 1.13208e-4 * t * t + 0.021110538 * r -
                           6.93034e-5 * r * r + 3.78843e-4 * t * r);
}

double dehumidifier_efficiency_factor(double t, double r) {
  return std::max(0.3, -1.902154518 + 0.063466565 * t - 6.22839e-4 * t * t + 0.039540407 * r -
                           1.25637e-4 * r * r - 1.76722e-4 * t * r);
}

double canopy_radiation_w(const Parameters& p, double light) {
  return light * p.light_w * p.light_radiant * kCapture * kAbsorbed * p.canopy_cover;
}

double canopy_photons(const Parameters& p, double light) {
  return light * p.light_w * p.light_umol_j * kCapture / p.floor_area_m2;
}

LeafFluxes leaf_fluxes(const Parameters& p, double leaf_area, double radiation_w, double photons,
                       bool air_moves, double water_left, const LeafAir& air) {
  const double area = std::min(leaf_area, kLeafAreaActive) * p.floor_area_m2;
  if (area <= 0 || water_left <= 0) return {0, radiation_w, 0};
  const double deficit = std::max(0.0, air.saturation_kpa - air.vapour_kpa);
  const double boundary = p.leaf_resistance_s_m * (air_moves ? 1.0 : kStillAir);
  const double open = 60 * (1500 + photons) / (200 + photons) * (photons > 1 ? 1.0 : 2.0);
  const double closure = (1 + deficit / kClosureKpa) / (1 + 1 / kClosureKpa);
  const double stomata = open * closure / water_left;
  const double gh = area * kAirDensity * kAirHeat / boundary;
  const double ge = area * kAirDensity * kAirHeat / (kPsychrometric * (boundary + stomata));
  const double warmer = (radiation_w - ge * deficit) / (gh + ge * air.slope_kpa_k);
  const double latent = ge * (deficit + air.slope_kpa_k * warmer);
  return {warmer, gh * warmer, latent / kVaporisation};
}

void step_climate(State& s, const Parameters& p, const Acting& a, bool splash,
                  bool room_is_recorded) {
  LeafAir air;
  air.saturation_kpa = saturation_kpa(s.air_c);
  air.slope_kpa_k = saturation_slope(s.air_c, air.saturation_kpa);
  air.vapour_kpa = vapour_kpa(s.air_w);
  const double fixture = a.light * p.light_w * p.light_convective;
  const double stirred = a.circulation ? p.circulation_fan_w : 0.0;
  Inflow tent{fixture + stirred, 0};
  Inflow room;
  double room_draws = 0;
  s.ledger.light_j += a.light * p.light_w;
  s.ledger.heat_in_j += fixture + stirred;
  leaves(s, p, a, air, tent);
  medium(s, p, a, air, splash, tent);
  surfaces(s, p, a, tent, room);
  dehumidifier(s, p, a, tent, room);
  ventilate(s, p, a, tent, room, room_draws);
  humidify_and_settle(s, p, a, air, tent);
  s.air_c += tent.heat_w / (kAirDensity * p.tent_volume_m3 * kAirHeat);
  s.air_w += tent.vapour_kg_s / (kAirDensity * p.tent_volume_m3);
  if (room_is_recorded)
    s.ledger.water_in_kg += -room.vapour_kg_s;
  else
    step_room(s, p, room, room_draws);
}

double heat_held_j(const State& s, const Parameters& p) {
  return kAirDensity * p.tent_volume_m3 * kAirHeat * s.air_c +
         1000 * p.surface_heat_kj_k * s.surface_c + medium_heat(s, p) * s.medium_c +
         reservoir_heat(s) * s.reservoir_c + (p.dehumidifier_in_room == 1 ? 0.0 : s.appliance_w);
}

double water_held_kg(const State& s, const Parameters& p, bool room_is_recorded) {
  const double tent_kg = kAirDensity * p.tent_volume_m3;
  const double room_kg = kAirDensity * p.room_volume_m3;
  const double room = room_kg * (s.room_w + p.room_moisture_factor * s.room_buffer_w);
  return solution_kg(s) + s.floor_kg + s.film_kg + s.coil_kg + s.bucket_kg +
         tent_kg * (s.air_w + p.sorption_factor * s.sorbed_w) + (room_is_recorded ? 0.0 : room);
}

}  // namespace neap::drivers::simulated
