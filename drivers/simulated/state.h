// The simulated tent's state: one plain value, comparable to the bit. Units: litres of water are
// kilograms; temperatures C; humidity ratios kg/kg; vapour pressures kPa.
#pragma once

#include <cstdint>

#include "drivers/simulated/faults.h"

namespace neap::drivers::simulated {

// What has passed the borders since the start: the tests close the balances with it.
struct Ledger {
  double transpired_kg = 0;
  double evaporated_kg = 0;    // from medium, tray and reservoir into the tent
  double condensed_kg = 0;     // on walls and fixture, before any of it evaporates again
  double dehumidified_kg = 0;  // taken out of the air by the dehumidifier
  double humidified_kg = 0;
  double pumped_kg = 0;      // through the pump
  double overflowed_kg = 0;  // over the standpipe
  double drained_kg = 0;     // out of the tray by the drain
  double spilled_kg = 0;     // onto the floor
  double refilled_kg = 0;
  double water_in_kg = 0;     // net, over the borders of tent and room
  double heat_in_j = 0;       // net sensible heat, over the borders of the tent
  double dehumidifier_j = 0;  // electricity
  double heater_j = 0;        // air and water heater
  double chiller_j = 0;
  double light_j = 0;
  double pump_s = 0;  // time the pump turned
  friend bool operator==(const Ledger&, const Ledger&) = default;
};

struct AirProbe {
  double mixed_c = 0, mixed_kpa = 0;   // the air that reaches the probe
  double celsius = 0, vapour_kpa = 0;  // what the probe itself has taken on
  friend bool operator==(const AirProbe&, const AirProbe&) = default;
};

struct Floats {
  bool tray_wet = false, tray_full = false, tray_high = false, reservoir_low = false;
  bool leak_floor = false, leak_rack = false, leak_reservoir = false;
  bool pump_running = false, bucket_full = false;
  bool air_pump_running = false, board_undervoltage = false;
  friend bool operator==(const Floats&, const Floats&) = default;
};

struct State {
  // tent air, walls, canopy
  double air_c = 0, air_w = 0, surface_c = 0, sorbed_w = 0, film_kg = 0, leaf_c = 0;
  double leaf_area = 0, photons = 0;
  // tray and medium (one temperature), reservoir, solution
  double medium_c = 0, medium_kg = 0, wetness = 0, tray_kg = 0;
  double reservoir_c = 0, reservoir_kg = 0;
  double salt = 0, ph = 0;  // mS/cm times litres in the whole solution
  // spilled water, and how much of it a probe at each place has met
  double floor_kg = 0, seen_floor_kg = 0, seen_rack_kg = 0, seen_reservoir_kg = 0;
  // room, building, outdoors
  double room_c = 0, room_w = 0, room_mass_c = 0, room_buffer_w = 0;
  double building_c = 0, building_w = 0, outdoor_c = 0, outdoor_kpa = 0;
  // dehumidifier
  double run_up = 0, coil_kg = 0, bucket_kg = 0, appliance_j = 0;
  // thermostats of their own, of what nobody commands
  bool air_heater_on = false, water_heater_on = false, water_chiller_on = false;
  // probes
  AirProbe canopy, canopy_b, room;
  double leaf_probe_c = 0, solution_probe_c = 0, level_probe_l = 0;
  Floats floats;
  Ledger ledger;
  FaultsNow faults;
  bool second_contact = false;                               // the pump has two, in series
  bool heater_commanded = false, chiller_commanded = false;  // in the water, by neap
  bool bus_stuck = false;  // until the supply of the sensors was off
  bool sensors_powered = true;
  int pump_turns_s = 0;    // since it started
  std::int64_t steps = 0;  // grid steps since the start, 1 s each
  friend bool operator==(const State&, const State&) = default;
};

// The outputs as they act, faults included: levels 0..1.
struct Acting {
  bool pump = false;
  double pump_strength = 1, drain_opening = 1;
  bool valve_open = true, hose_whole = true, standpipe_free = true;
  double fan = 0, filter_passes = 1, light = 0, leak_kg_s = 0, seep_kg_s = 0;
  bool circulation = true, dehumidifier = false, humidifier = false, air_pump = true;
  bool water_heater = false, water_chiller = false;
};

}  // namespace neap::drivers::simulated
