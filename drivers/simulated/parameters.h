// Every physical parameter of the simulated tent that settings may set, with its own default, the
// range that is accepted and where the figure comes from. The unit stands at the end of the name.
#pragma once

#include <array>
#include <map>
#include <string>
#include <string_view>

namespace neap::drivers::simulated {

// Filled from the table below and from settings, never by hand.
struct Parameters {
  // tent
  double tent_volume_m3, wall_area_m2, floor_area_m2;
  double wall_inside_w_m2k, wall_outside_w_m2k, surface_heat_kj_k, sorption_factor;
  // canopy
  double leaf_area_index, leaf_area_per_day, leaf_area_most, canopy_cover, leaf_resistance_s_m;
  // light
  double light_w, light_radiant, light_convective, light_umol_j;
  // air movers
  double fan_max_m3h, filter_share, filter_clogging, leakage_m3h, exhaust_ducted_out;
  double circulation_fan_w;
  // drying, wetting, warming
  double dehumidifier_kind, peltier_l_per_kwh, peltier_plate_k;
  double dehumidifier_l_per_day, dehumidifier_l_per_kwh, dehumidifier_in_room;
  double dehumidifier_run_up_s, dehumidifier_coil_g, dehumidifier_bucket_l, humidifier_g_per_h;
  double air_heater_w, air_heater_c;
  // table
  double tray_area_m2, medium_porosity, standpipe_height_mm, standpipe_bore_mm, tray_rim_mm;
  double tray_full_mm, tray_high_mm, tray_wet_mm;
  double medium_capacity_l, medium_dry_kj_k, medium_open_dry, medium_open_wet, splash_factor;
  double evaporation_w_m2_pa;
  // pump, hose, drain
  double pump_flow_l_per_h, pump_shutoff_m, pump_lift_m, pump_w, pump_intake_l;
  double hose_bore_mm, hose_length_m, hose_fittings, pump_idle_loss;
  double drain_path, drain_bore_mm, drain_coefficient;
  // reservoir and solution
  double reservoir_capacity_l, reservoir_start_l, reservoir_area_m2, reservoir_low_l;
  double reservoir_w_k, reservoir_lid_ml_h, refill_below_l, feed_ec, feed_ph, uptake_ec;
  double ph_rise_per_l;
  double water_heater_w, water_heater_c, water_chiller_w, water_chiller_c, water_chiller_cop;
  double water_chiller_in_room;
  // room and building
  double room_volume_m3, room_air_changes_h, room_mass_kj_k, room_mass_w_k, room_wall_w_k;
  double room_moisture_factor, building_c, building_swing_c, building_w_g_kg;
  double building_noise_c, building_noise_g_kg;
  // sensors
  double sensor_noise_c, sensor_noise_pct, sensor_lag_temperature_s, sensor_lag_humidity_s;
  double sensor_mixing_s, sensor_dropout, canopy_humidity_bias_pct;
  double canopy_b_warmer_c, canopy_b_vapour_factor, level_noise_l;
};

struct ParameterInfo {
  std::string_view name;
  std::string_view unit;  // empty: a plain number, or a choice
  double fallback;
  double lowest;
  double highest;
  std::string_view what;
  std::string_view source;
  double Parameters::*member;
};

// Sources: an "assumption" is plausible, with its range where one is given, and was never measured
// in a real tent; "choice" is what a grower might own.
inline constexpr std::array kParameters{
    // The tent: 1.0 x 1.0 x 1.9 m of coated fabric.
    ParameterInfo{"tent_volume_m3", "m3", 1.9, 0.3, 12, "air in the tent", "1.0 x 1.0 x 1.9 m",
                  &Parameters::tent_volume_m3},
    ParameterInfo{"wall_area_m2", "m2", 8.6, 2, 40, "walls and roof", "four sides and a roof",
                  &Parameters::wall_area_m2},
    ParameterInfo{"floor_area_m2", "m2", 1.0, 0.2, 6, "ground that the canopy may cover",
                  "1.0 x 1.0 m", &Parameters::floor_area_m2},
    ParameterInfo{"wall_inside_w_m2k", "W/m2K", 6, 3, 10, "heat transfer, tent air to wall",
                  "ISO 6946, magnitude", &Parameters::wall_inside_w_m2k},
    ParameterInfo{"wall_outside_w_m2k", "W/m2K", 6, 3, 10, "heat transfer, wall to room",
                  "ISO 6946, magnitude", &Parameters::wall_outside_w_m2k},
    ParameterInfo{"surface_heat_kj_k", "kJ/K", 20, 5, 60, "fabric, poles, fixture and leaves",
                  "assumption, 12-30", &Parameters::surface_heat_kj_k},
    ParameterInfo{"sorption_factor", "", 1, 0, 4,
                  "vapour held by fabric and medium, in times of the air's", "assumption",
                  &Parameters::sorption_factor},
    // The canopy.
    ParameterInfo{"leaf_area_index", "m2/m2", 2.5, 0, 6, "leaf area a ground area at the start",
                  "full small canopy", &Parameters::leaf_area_index},
    ParameterInfo{"leaf_area_per_day", "m2/m2 d", 0, -0.2, 0.3,
                  "growth of the leaf area index a day", "0: a canopy that stays as it is",
                  &Parameters::leaf_area_per_day},
    ParameterInfo{"leaf_area_most", "m2/m2", 5, 0.1, 6, "where growth ends", "dense canopy",
                  &Parameters::leaf_area_most},
    ParameterInfo{"canopy_cover", "", 0.85, 0.05, 1, "part of the ground that the canopy hides",
                  "assumption", &Parameters::canopy_cover},
    ParameterInfo{"leaf_resistance_s_m", "s/m", 100, 30, 400,
                  "boundary layer of the leaves in moving air", "Graamans et al. 2017",
                  &Parameters::leaf_resistance_s_m},
    // The light.
    ParameterInfo{"light_w", "W", 150, 10, 1000, "electric power at full level",
                  "one fixture for 1 m2", &Parameters::light_w},
    ParameterInfo{"light_radiant", "", 0.52, 0.3, 0.65, "part that leaves as light",
                  "assumption, .45-.60", &Parameters::light_radiant},
    ParameterInfo{"light_convective", "", 0.40, 0.2, 0.6, "part that warms the air at the fixture",
                  "assumption", &Parameters::light_convective},
    ParameterInfo{"light_umol_j", "umol/J", 2.6, 1, 3.6, "photons a joule of electricity",
                  "common LED fixtures, no source", &Parameters::light_umol_j},
    // Air movers.
    ParameterInfo{"fan_max_m3h", "m3/h", 150, 20, 500,
                  "exhaust fan at full level, through its filter", "assumption, 100-190",
                  &Parameters::fan_max_m3h},
    ParameterInfo{"filter_share", "", 0.5, 0, 0.95,
                  "part of the fan's pressure that the clean filter takes", "assumption, .3-.7",
                  &Parameters::filter_share},
    ParameterInfo{"filter_clogging", "", 0, 0, 0.9, "part of the filter that is shut", "choice",
                  &Parameters::filter_clogging},
    ParameterInfo{"leakage_m3h", "m3/h", 4, 0, 40,
                  "air through seams with the fan stopped and no warmth", "assumption",
                  &Parameters::leakage_m3h},
    ParameterInfo{"exhaust_ducted_out", "", 0, 0, 1,
                  "1: exhaust leaves the building, 0: it stays in the room", "choice",
                  &Parameters::exhaust_ducted_out},
    ParameterInfo{"circulation_fan_w", "W", 6, 0, 60,
                  "power of the circulation fan, all of it heat", "small clip fan",
                  &Parameters::circulation_fan_w},
    // Drying, wetting and warming.
    ParameterInfo{"dehumidifier_kind", "", 0, 0, 1, "0: compressor, 1: Peltier", "choice",
                  &Parameters::dehumidifier_kind},
    ParameterInfo{"dehumidifier_l_per_day", "L/d", 2.0, 0, 20, "capacity at 26.7 C and 60 %",
                  "small unit; label at 30 C/80 % is 1.6 times that",
                  &Parameters::dehumidifier_l_per_day},
    ParameterInfo{"dehumidifier_l_per_kwh", "L/kWh", 1.1, 0.1, 3,
                  "energy factor at 26.7 C and 60 %", "assumption: compressor 1.1-1.4",
                  &Parameters::dehumidifier_l_per_kwh},
    ParameterInfo{"dehumidifier_in_room", "", 0, 0, 1, "1: it stands in the room, 0: in the tent",
                  "choice", &Parameters::dehumidifier_in_room},
    ParameterInfo{"dehumidifier_run_up_s", "s", 150, 5, 600,
                  "time constant of the compressor's start", "assumption",
                  &Parameters::dehumidifier_run_up_s},
    ParameterInfo{"dehumidifier_coil_g", "g", 50, 0, 120, "water that stays on the coil",
                  "Shirey, Henderson 2004: 30-80 g", &Parameters::dehumidifier_coil_g},
    ParameterInfo{"dehumidifier_bucket_l", "L", 0, 0, 20, "bucket; 0: drained by a hose", "choice",
                  &Parameters::dehumidifier_bucket_l},
    ParameterInfo{"peltier_l_per_kwh", "L/kWh", 0.22, 0.05, 1, "the same of a Peltier unit",
                  "assumption, .15-.3", &Parameters::peltier_l_per_kwh},
    ParameterInfo{"peltier_plate_k", "K", 15, 10, 30, "its plate below the air",
                  "assumption, 12-20", &Parameters::peltier_plate_k},
    ParameterInfo{"humidifier_g_per_h", "g/h", 250, 20, 1500, "cool mist at full output",
                  "small ultrasonic unit", &Parameters::humidifier_g_per_h},
    ParameterInfo{"air_heater_w", "W", 0, 0, 2000,
                  "air heater in the tent, by a thermostat of its own; 0: none", "choice",
                  &Parameters::air_heater_w},
    ParameterInfo{"air_heater_c", "C", 18, 5, 35, "what that thermostat holds, +-0.5 K", "choice",
                  &Parameters::air_heater_c},
    // The table.
    ParameterInfo{"tray_area_m2", "m2", 0.64, 0.1, 2, "inside of the tray", "0.8 x 0.8 m",
                  &Parameters::tray_area_m2},
    ParameterInfo{"medium_porosity", "", 0.65, 0.2, 1,
                  "part of the tray's volume that water can take", "assumption",
                  &Parameters::medium_porosity},
    ParameterInfo{"standpipe_height_mm", "mm", 60, 15, 200,
                  "rim of the standpipe over the tray floor", "choice",
                  &Parameters::standpipe_height_mm},
    ParameterInfo{"standpipe_bore_mm", "mm", 32, 12, 60, "inside of the standpipe",
                  "choice; passes 940 L/h at 15 mm of head", &Parameters::standpipe_bore_mm},
    ParameterInfo{"tray_rim_mm", "mm", 110, 30, 300,
                  "rim of the tray; water above it runs to the floor", "choice",
                  &Parameters::tray_rim_mm},
    ParameterInfo{"tray_full_mm", "mm", 56, 10, 200, "height of the level float",
                  "a little under the standpipe", &Parameters::tray_full_mm},
    ParameterInfo{"tray_high_mm", "mm", 85, 12, 290, "height of the overflow float",
                  "between standpipe and rim", &Parameters::tray_high_mm},
    ParameterInfo{"tray_wet_mm", "mm", 3, 1, 20, "height of the floor contact", "choice",
                  &Parameters::tray_wet_mm},
    ParameterInfo{"medium_capacity_l", "L", 6, 0.5, 60, "water the medium holds for the roots",
                  "16 pots of coarse coir and perlite", &Parameters::medium_capacity_l},
    ParameterInfo{"medium_dry_kj_k", "kJ/K", 12, 2, 80, "heat capacity of tray and dry medium",
                  "assumption", &Parameters::medium_dry_kj_k},
    ParameterInfo{"medium_open_dry", "", 0.10, 0, 1, "part of the tray that evaporates when dry",
                  "assumption, .05-.25", &Parameters::medium_open_dry},
    ParameterInfo{"medium_open_wet", "", 0.70, 0, 1,
                  "part of the tray that evaporates when flooded", "assumption, .4-1",
                  &Parameters::medium_open_wet},
    ParameterInfo{"splash_factor", "", 1.6, 1, 8, "evaporation while water moves",
                  "assumption, 1.2-6", &Parameters::splash_factor},
    ParameterInfo{"evaporation_w_m2_pa", "W/m2Pa", 0.074, 0.01, 0.3, "evaporation from still water",
                  "ASHRAE pool form, measured 74 % of it (Shah 2014)",
                  &Parameters::evaporation_w_m2_pa},
    // Pump, hose and drain.
    ParameterInfo{"pump_flow_l_per_h", "L/h", 900, 100, 5000, "pump at no head", "label",
                  &Parameters::pump_flow_l_per_h},
    ParameterInfo{"pump_shutoff_m", "m", 1.8, 0.3, 8, "head at which it moves nothing", "label",
                  &Parameters::pump_shutoff_m},
    ParameterInfo{"pump_lift_m", "m", 0.40, 0, 2,
                  "water line of a full reservoir to the tray floor", "choice",
                  &Parameters::pump_lift_m},
    ParameterInfo{"pump_w", "W", 18, 2, 200, "its power, all into the water", "label",
                  &Parameters::pump_w},
    ParameterInfo{"pump_intake_l", "L", 2, 0, 50, "below this the pump draws air", "choice",
                  &Parameters::pump_intake_l},
    ParameterInfo{"hose_bore_mm", "mm", 13, 6, 32, "inside of the hose", "choice",
                  &Parameters::hose_bore_mm},
    ParameterInfo{"hose_length_m", "m", 1.5, 0.2, 10, "length of the hose", "choice",
                  &Parameters::hose_length_m},
    ParameterInfo{"hose_fittings", "", 4.2, 0.5, 20,
                  "loss coefficients of bends and fittings together", "assumption",
                  &Parameters::hose_fittings},
    ParameterInfo{"pump_idle_loss", "", 25, 0, 200,
                  "loss coefficient of water running back through the resting pump", "assumption",
                  &Parameters::pump_idle_loss},
    ParameterInfo{"drain_path", "", 0, 0, 2,
                  "0: back through the pump, 1: weep hole, 2: drain valve", "choice",
                  &Parameters::drain_path},
    ParameterInfo{"drain_bore_mm", "mm", 13, 2, 40, "weep hole or valve", "choice",
                  &Parameters::drain_bore_mm},
    ParameterInfo{"drain_coefficient", "", 0.60, 0.4, 0.98, "discharge coefficient of that hole",
                  "sharp-edged orifice", &Parameters::drain_coefficient},
    // Reservoir and solution.
    ParameterInfo{"reservoir_capacity_l", "L", 60, 5, 500, "brim", "choice",
                  &Parameters::reservoir_capacity_l},
    ParameterInfo{"reservoir_start_l", "L", 50, 0, 500,
                  "filling at the start and after each refill", "choice",
                  &Parameters::reservoir_start_l},
    ParameterInfo{"reservoir_area_m2", "m2", 0.24, 0.02, 2, "water surface", "assumption",
                  &Parameters::reservoir_area_m2},
    ParameterInfo{"reservoir_low_l", "L", 10, 0, 200, "where the low float closes", "choice",
                  &Parameters::reservoir_low_l},
    ParameterInfo{"reservoir_w_k", "W/K", 3, 0, 40, "heat exchange with the tent air", "assumption",
                  &Parameters::reservoir_w_k},
    ParameterInfo{"reservoir_lid_ml_h", "mL/h", 4, 0, 100, "evaporation past the lid, at 1.2 kPa",
                  "assumption", &Parameters::reservoir_lid_ml_h},
    ParameterInfo{"refill_below_l", "L", 0, 0, 500,
                  "a grower refills and mops at 19:00 when the level is below; 0: nobody does",
                  "choice", &Parameters::refill_below_l},
    ParameterInfo{"feed_ec", "mS/cm", 1.4, 0, 5, "EC of the water that is filled in",
                  "strawberries, common practice", &Parameters::feed_ec},
    ParameterInfo{"feed_ph", "pH", 5.8, 4, 8, "its pH", "common practice", &Parameters::feed_ph},
    ParameterInfo{"uptake_ec", "mS/cm", 1.55, 0, 5, "what roots take up with each litre",
                  "assumption", &Parameters::uptake_ec},
    ParameterInfo{"ph_rise_per_l", "pH/L", 0.012, 0, 0.5, "pH rise a litre taken up", "assumption",
                  &Parameters::ph_rise_per_l},
    ParameterInfo{"water_heater_w", "W", 0, 0, 1000,
                  "heater in the reservoir, by a thermostat of its own; 0: none", "choice",
                  &Parameters::water_heater_w},
    ParameterInfo{"water_heater_c", "C", 19, 10, 35, "what that thermostat holds, +-0.5 K",
                  "choice", &Parameters::water_heater_c},
    ParameterInfo{
        "water_chiller_w", "W", 0, 0, 1000,
        "heat that a chiller draws from the reservoir, by a thermostat of its own; 0: none",
        "choice", &Parameters::water_chiller_w},
    ParameterInfo{"water_chiller_c", "C", 21, 5, 30, "what that thermostat holds, +-0.5 K",
                  "choice", &Parameters::water_chiller_c},
    ParameterInfo{"water_chiller_cop", "", 2.5, 0.3, 6, "heat drawn for its electricity",
                  "assumption: compressor 2-3, Peltier 0.5", &Parameters::water_chiller_cop},
    ParameterInfo{"water_chiller_in_room", "", 1, 0, 1,
                  "1: the chiller warms the room, 0: the tent", "choice",
                  &Parameters::water_chiller_in_room},
    // The room around the tent and the building around the room.
    ParameterInfo{"room_volume_m3", "m3", 25, 4, 500, "air of the room", "box-room, 10 m2",
                  &Parameters::room_volume_m3},
    ParameterInfo{"room_air_changes_h", "1/h", 1.0, 0.05, 20, "air exchanged with the building",
                  "assumption, 0.6-4", &Parameters::room_air_changes_h},
    ParameterInfo{"room_mass_kj_k", "kJ/K", 800, 50, 20000, "walls and furniture", "assumption",
                  &Parameters::room_mass_kj_k},
    ParameterInfo{"room_mass_w_k", "W/K", 150, 10, 2000, "room air to that mass",
                  "50 m2 at 3 W/m2K", &Parameters::room_mass_w_k},
    ParameterInfo{"room_wall_w_k", "W/K", 40, 1, 500, "that mass to the building",
                  "inner walls, 25 m2", &Parameters::room_wall_w_k},
    ParameterInfo{"room_moisture_factor", "", 8, 1, 25,
                  "moisture the room buffers, in times of its air's",
                  "EnergyPlus reference, effective capacitance", &Parameters::room_moisture_factor},
    ParameterInfo{"building_c", "C", 20, -5, 40,
                  "mean temperature of the building (heated to at least this with a weather file)",
                  "choice", &Parameters::building_c},
    ParameterInfo{"building_swing_c", "K", 1.5, 0, 12, "half of the daily swing, warmest at 16:00",
                  "choice", &Parameters::building_swing_c},
    ParameterInfo{"building_w_g_kg", "g/kg", 7.5, 1, 25, "mean humidity ratio of the building",
                  "51 % at 20 C", &Parameters::building_w_g_kg},
    ParameterInfo{"building_noise_c", "K", 0.4, 0, 5, "slow wandering of the temperature", "choice",
                  &Parameters::building_noise_c},
    ParameterInfo{"building_noise_g_kg", "g/kg", 0.4, 0, 5, "slow wandering of the humidity ratio",
                  "choice", &Parameters::building_noise_g_kg},
    // Sensors.
    ParameterInfo{"sensor_noise_c", "K", 0.08, 0, 2, "standard deviation of one reading",
                  "assumption", &Parameters::sensor_noise_c},
    ParameterInfo{"sensor_noise_pct", "%", 0.5, 0, 10, "standard deviation of one reading",
                  "assumption", &Parameters::sensor_noise_pct},
    ParameterInfo{"sensor_lag_temperature_s", "s", 45, 1, 900,
                  "time constant of the probe's temperature", "assumption",
                  &Parameters::sensor_lag_temperature_s},
    ParameterInfo{"sensor_lag_humidity_s", "s", 30, 1, 900, "time constant of the probe's vapour",
                  "assumption", &Parameters::sensor_lag_humidity_s},
    ParameterInfo{"sensor_mixing_s", "s", 20, 1, 300,
                  "time constant of mixing, circulation fan running", "assumption",
                  &Parameters::sensor_mixing_s},
    ParameterInfo{"sensor_dropout", "", 0.0005, 0, 0.5, "part of readings that do not arrive",
                  "assumption", &Parameters::sensor_dropout},
    ParameterInfo{"canopy_humidity_bias_pct", "%", 0, -10, 10, "error of the canopy humidity probe",
                  "choice", &Parameters::canopy_humidity_bias_pct},
    ParameterInfo{"canopy_b_warmer_c", "K", -0.3, -5, 5,
                  "second canopy probe: warmer than the mean air", "choice",
                  &Parameters::canopy_b_warmer_c},
    ParameterInfo{"canopy_b_vapour_factor", "", 1.03, 0.8, 1.3,
                  "second canopy probe: vapour there over the mean", "choice",
                  &Parameters::canopy_b_vapour_factor},
    ParameterInfo{"level_noise_l", "L", 0.1, 0, 5, "standard deviation of one level reading",
                  "+-1 mm on 0.24 m2", &Parameters::level_noise_l},
};

constexpr Parameters default_parameters() {
  Parameters result{};
  for (const ParameterInfo& row : kParameters) result.*row.member = row.fallback;
  return result;
}

// Defaults with the settings' values in their place. An unknown name, a value out of range or a
// height that contradicts another is told in `error`, with the rule; the result is then unusable.
Parameters parameters_from(const std::map<std::string, double, std::less<>>& settings,
                           std::string& error);

}  // namespace neap::drivers::simulated
