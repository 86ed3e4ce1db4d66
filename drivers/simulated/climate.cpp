#include "drivers/simulated/climate.h"

#include <algorithm>
#include <cmath>

#include "drivers/simulated/appliances.h"
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
constexpr double kRoomBuffer = 3600.0;    // s
constexpr double kRoomGlass = 0.5;        // kg/s a kg/kg: cold surfaces of the room

// How long a step lasts, and whether water moves in the tray meanwhile.
struct Span {
  double seconds;
  bool splash;
};

void leaves(State& s, const Parameters& p, const Acting& a, const LeafAir& air, double seconds,
            Inflow& tent) {
  const double water_left = std::min(1.0, (s.medium_kg + s.tray_kg) / (0.2 * p.medium_capacity_l));
  const double radiation = canopy_radiation_w(p, a.light);
  const LeafFluxes leaf =
      leaf_fluxes(p, s.leaf_area, radiation, s.photons, a.circulation, water_left, air);
  const double kg = std::min(leaf.vapour_kg_s * seconds, s.medium_kg + s.tray_kg);
  s.leaf_c = s.air_c + leaf.warmer_k;
  tent.heat_j += leaf.heat_w * seconds;
  tent.vapour_kg += kg;
  s.ledger.heat_in_j += radiation * seconds - kVaporisation * kg;
  s.ledger.transpired_kg += kg;
  s.salt = std::max(0.0, s.salt - p.uptake_ec * kg);
  s.ph = std::min(8.5, s.ph + p.ph_rise_per_l * kg);
  take_from_medium(s, kg);
}

void medium(State& s, const Parameters& p, const Acting& a, const LeafAir& air, const Span& span,
            Inflow& tent) {
  const double still = 1000 * p.evaporation_w_m2_pa / kVaporisation;  // kg/(m2 s kPa)
  const double open = p.medium_open_dry + (p.medium_open_wet - p.medium_open_dry) * s.wetness;
  const double deficit = std::max(0.0, saturation_kpa(s.medium_c) - air.vapour_kpa);
  const double dries =
      std::min(s.medium_kg + s.tray_kg, still * p.tray_area_m2 * open * deficit *
                                            (span.splash ? p.splash_factor : 1.0) * span.seconds);
  s.wetness = std::max(0.0, s.wetness - dries / (kSurfaceWater * p.tray_area_m2) -
                                span.seconds * s.wetness / kWetnessFades);
  const double lid =
      std::min(s.reservoir_kg, p.reservoir_lid_ml_h / 3.6e6 / 1.2 *
                                   std::max(0.0, saturation_kpa(s.reservoir_c) - air.vapour_kpa) *
                                   span.seconds);
  tent.vapour_kg += dries + lid;
  s.ledger.evaporated_kg += dries + lid;
  s.ledger.heat_in_j -= kVaporisation * (dries + lid) + kWaterHeat * lid * s.reservoir_c;
  const double to_air = kTrayFilm * p.tray_area_m2 * (s.medium_c - s.air_c);
  const double light = a.light * p.light_w * p.light_radiant - canopy_radiation_w(p, a.light);
  const double lit = (1 - kRestToSurfaces) * light;
  s.ledger.heat_in_j += lit * span.seconds;
  s.medium_c += ((lit - to_air) * span.seconds - kVaporisation * dries) / medium_heat(s, p);
  const double from_reservoir = p.reservoir_w_k * (s.reservoir_c - s.air_c);
  s.reservoir_c -= (from_reservoir * span.seconds + kVaporisation * lid) / reservoir_heat(s);
  tent.heat_j += (to_air + from_reservoir) * span.seconds;
  s.reservoir_kg -= lid;
  take_from_medium(s, dries);
}

// Walls, poles and fixture: light, convection both ways, and water by the Lewis relation.
void surfaces(State& s, const Parameters& p, const Acting& a, double seconds, Inflow& tent,
              Inflow& room) {
  const double missed = a.light * p.light_w * p.light_radiant - canopy_radiation_w(p, a.light);
  const double longwave = a.light * p.light_w * (1 - p.light_radiant - p.light_convective);
  const double inside = p.wall_inside_w_m2k * p.wall_area_m2;
  const double outside = p.wall_outside_w_m2k * p.wall_area_m2 * (s.surface_c - s.room_c);
  const double to_air = inside * (s.surface_c - s.air_c);
  const double wall_w = humidity_ratio(saturation_kpa(s.surface_c));
  const double reach = inside / (2 * kAirHeat) * (s.air_w - wall_w) * seconds;
  const double settles = std::max(reach, -s.film_kg);
  s.film_kg += settles;
  s.ledger.condensed_kg += std::max(0.0, settles);
  const double light_in = kRestToSurfaces * missed + longwave;
  s.ledger.heat_in_j += (light_in - outside) * seconds + kVaporisation * settles;
  s.surface_c += ((light_in - to_air - outside) * seconds + kVaporisation * settles) /
                 (1000 * p.surface_heat_kj_k);
  tent.heat_j += to_air * seconds;
  tent.vapour_kg -= settles;
  room.heat_j += outside * seconds;
  const double drips = s.film_kg - kFilmHolds * p.wall_area_m2;
  if (drips > 0) {
    s.film_kg -= drips;
    s.tray_kg += drips;
    s.ledger.heat_in_j += kWaterHeat * drips * s.medium_c;
  }
}

// Air drawn from the room, and pushed back into it or out of the building.
void ventilate(State& s, const Parameters& p, const Acting& a, double seconds, Inflow& tent,
               Inflow& room, double& room_draws_m3_h) {
  const double flow = air_flow_m3_h(p, a.fan, s.air_c - s.room_c, a.filter_passes);
  const double kg = kAirDensity * flow / 3600 * seconds;
  const double heat = kg * kAirHeat * (s.air_c - s.room_c);
  const double vapour = kg * (s.air_w - s.room_w);
  tent.heat_j -= heat;
  tent.vapour_kg -= vapour;
  s.ledger.heat_in_j -= heat;
  if (p.exhaust_ducted_out == 1) {
    s.ledger.water_in_kg -= vapour;
    room_draws_m3_h += flow;
  } else {
    room.heat_j += heat;
    room.vapour_kg += vapour;
  }
}

void humidify_and_settle(State& s, const Parameters& p, const Acting& a, const LeafAir& air,
                         double seconds, Inflow& tent) {
  const double mist = a.humidifier ? p.humidifier_g_per_h / 3.6e6 * seconds : 0.0;
  s.ledger.humidified_kg += mist;
  s.ledger.water_in_kg += mist;
  const double volume_kg = kAirDensity * p.tent_volume_m3;
  const double most = humidity_ratio(air.saturation_kpa);
  const double fog = std::max(0.0, seconds * volume_kg * (s.air_w - most) / kFogSeconds);
  s.film_kg += fog;
  s.ledger.condensed_kg += fog;
  const double held = p.sorption_factor * volume_kg;
  const double soaks = held > 0 ? seconds * held * (s.air_w - s.sorbed_w) / kSorptionSeconds : 0.0;
  if (held > 0) s.sorbed_w += soaks / held;
  tent.vapour_kg += mist - fog - soaks;
  tent.heat_j -= kVaporisation * (mist - fog);
  s.ledger.heat_in_j -= kVaporisation * (mist - fog);
}

void step_room(State& s, const Parameters& p, const Inflow& room, double draws_m3_h,
               double seconds) {
  const double air_kg = kAirDensity * p.room_volume_m3;
  const double changed =
      kAirDensity * (p.room_air_changes_h * p.room_volume_m3 + draws_m3_h) / 3600 * seconds;
  const double to_mass = p.room_mass_w_k * (s.room_c - s.room_mass_c);
  const double heat =
      room.heat_j - to_mass * seconds + changed * kAirHeat * (s.building_c - s.room_c);
  s.room_c += heat / (air_kg * kAirHeat);
  s.room_mass_c += (to_mass - p.room_wall_w_k * (s.room_mass_c - s.building_c)) * seconds /
                   (1000 * p.room_mass_kj_k);
  const double buffer_kg = p.room_moisture_factor * air_kg;
  const double soaks = seconds * buffer_kg * (s.room_w - s.room_buffer_w) / kRoomBuffer;
  const double drawn = changed * (s.building_w - s.room_w);
  const double panes = std::max(
      0.0, seconds * kRoomGlass * (s.room_w - humidity_ratio(saturation_kpa(s.room_mass_c - 1))));
  s.room_w += (room.vapour_kg + drawn - soaks - panes) / air_kg;
  s.room_buffer_w += soaks / buffer_kg;
  s.ledger.water_in_kg += drawn - panes;
}

}  // namespace

double filter_passes(const Parameters& p, double clogging) {
  const double open = 1 - clogging;
  return 1 / std::sqrt(1 + p.filter_share * (1 / (open * open) - 1));
}

double air_flow_m3_h(const Parameters& p, double level, double warmer_k, double passes) {
  const double driven = level < 0.1 ? 0.0 : p.fan_max_m3h * (level - 0.1) / 0.9 * passes;
  const double leaks = p.leakage_m3h + 1.6 * std::sqrt(std::abs(warmer_k));
  return std::sqrt(driven * driven + leaks * leaks);
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

void step_climate(State& s, const Parameters& p, const Acting& a, double seconds, bool splash,
                  bool room_is_recorded) {
  LeafAir air;
  air.saturation_kpa = saturation_kpa(s.air_c);
  air.slope_kpa_k = saturation_slope(s.air_c, air.saturation_kpa);
  air.vapour_kpa = vapour_kpa(s.air_w);
  const double fixture = a.light * p.light_w * p.light_convective;
  const double stirred = a.circulation ? p.circulation_fan_w : 0.0;
  Inflow tent{(fixture + stirred) * seconds, 0};
  Inflow room;
  double room_draws = 0;
  s.ledger.light_j += a.light * p.light_w * seconds;
  s.ledger.heat_in_j += (fixture + stirred) * seconds;
  leaves(s, p, a, air, seconds, tent);
  medium(s, p, a, air, {seconds, splash}, tent);
  surfaces(s, p, a, seconds, tent, room);
  step_dehumidifier(s, p, a, seconds, tent, room);
  step_thermostats(s, p, a, seconds, tent, room);
  ventilate(s, p, a, seconds, tent, room, room_draws);
  humidify_and_settle(s, p, a, air, seconds, tent);
  s.air_c += tent.heat_j / (kAirDensity * p.tent_volume_m3 * kAirHeat);
  s.air_w += tent.vapour_kg / (kAirDensity * p.tent_volume_m3);
  if (room_is_recorded)
    s.ledger.water_in_kg += -room.vapour_kg;
  else
    step_room(s, p, room, room_draws, seconds);
}

double heat_held_j(const State& s, const Parameters& p) {
  return kAirDensity * p.tent_volume_m3 * kAirHeat * s.air_c +
         1000 * p.surface_heat_kj_k * s.surface_c + medium_heat(s, p) * s.medium_c +
         reservoir_heat(s) * s.reservoir_c + (p.dehumidifier_in_room == 1 ? 0.0 : s.appliance_j);
}

double water_held_kg(const State& s, const Parameters& p, bool room_is_recorded) {
  const double tent_kg = kAirDensity * p.tent_volume_m3;
  const double room_kg = kAirDensity * p.room_volume_m3;
  const double room = room_kg * (s.room_w + p.room_moisture_factor * s.room_buffer_w);
  return solution_kg(s) + s.floor_kg + s.film_kg + s.coil_kg + s.bucket_kg +
         tent_kg * (s.air_w + p.sorption_factor * s.sorbed_w) + (room_is_recorded ? 0.0 : room);
}

}  // namespace neap::drivers::simulated
