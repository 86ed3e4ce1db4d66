// What can go wrong in the simulated tent. Each has a name for settings and `neap fault`.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

#include "drivers/driver.h"

namespace neap::drivers::simulated {

enum class TentFault : std::uint8_t {
  leak,
  hose_burst,
  standpipe_blocked,
  drain_blocked,
  drain_slow,
  pump_dead,
  pump_weak,
  pump_welded,
  pump_contact_welded,
  pump_series_welded,
  tray_float_stuck_clear,
  tray_float_stuck_set,
  reservoir_float_stuck,
  reservoir_not_refilled,
  level_sensor_silent,
  leak_probe_open,
  leak_probe_damp,
  canopy_sensor_silent,
  canopy_sensor_frozen,
  canopy_sensor_wild,
  canopy_sensor_drift,
  canopy_humidity_saturated,
  room_sensor_silent,
  fan_dead,
  filter_clogged,
  circulation_fan_dead,
  dehumidifier_dead,
  dehumidifier_welded,
  humidifier_dead,
  bucket_full,
  light_dead,
  light_stuck_on,
  air_pump_dead,
  supply_sags,
  bus_stuck,
  reservoir_seeps,
  tray_float_bounces,
  pump_switch_hand,
  pump_switch_off,
  button_pressed,
  solution_sensor_silent,
};

// In the order of the enum: the tent indexes it (tests/drivers/simulated_faults_test checks).
inline constexpr std::array kTentFaults{
    World::FaultName{"leak", "the reservoir leaks: 5 mL/min at severity 0 to 5 L/min at 1"},
    World::FaultName{"hose_burst", "what the hose carries runs to the floor"},
    World::FaultName{"standpipe_blocked", "nothing runs over the standpipe"},
    World::FaultName{"drain_blocked", "the tray does not drain at all"},
    World::FaultName{"drain_slow", "the drain is narrowed, by 90 % at severity 1"},
    World::FaultName{"pump_dead", "the pump does not start"},
    World::FaultName{"pump_weak", "the pump moves less, by 70 % at severity 1"},
    World::FaultName{"pump_welded",
                     "the pump runs whatever is commanded: every contact of it holds"},
    World::FaultName{"pump_contact_welded", "the first of the pump's contacts does not open"},
    World::FaultName{"pump_series_welded", "the second of the pump's contacts does not open"},
    World::FaultName{"tray_float_stuck_clear", "the tray level float never says full"},
    World::FaultName{"tray_float_stuck_set", "the tray level float always says full"},
    World::FaultName{"reservoir_float_stuck", "the reservoir float never says low"},
    World::FaultName{"reservoir_not_refilled", "the grower is away: no refill, no mopping"},
    World::FaultName{"level_sensor_silent", "the reservoir level sensor does not answer"},
    World::FaultName{"leak_probe_open", "the wire of the floor probe is open"},
    World::FaultName{"leak_probe_damp", "the floor probe is damp: condensation, no leak"},
    World::FaultName{"canopy_sensor_silent", "the canopy probe does not answer"},
    World::FaultName{"canopy_sensor_frozen", "the canopy probe repeats one value"},
    World::FaultName{"canopy_sensor_wild", "the canopy probe gives wild values"},
    World::FaultName{"canopy_sensor_drift", "the canopy humidity reads high, by 8 % at severity 1"},
    World::FaultName{"canopy_humidity_saturated",
                     "the canopy humidity probe is wet: flat at 100 %"},
    World::FaultName{"room_sensor_silent", "the room probe does not answer"},
    World::FaultName{"fan_dead", "the exhaust fan does not turn"},
    World::FaultName{"filter_clogged", "the exhaust filter is clogged, by 90 % at severity 1"},
    World::FaultName{"circulation_fan_dead", "the circulation fan does not turn"},
    World::FaultName{"dehumidifier_dead", "the dehumidifier does not start"},
    World::FaultName{"dehumidifier_welded", "the dehumidifier runs whatever is commanded"},
    World::FaultName{"humidifier_dead", "the humidifier gives no mist"},
    World::FaultName{"bucket_full", "the dehumidifier's bucket is full: it stops by itself"},
    World::FaultName{"light_dead", "the light stays dark"},
    World::FaultName{"light_stuck_on", "the light stays at full level"},
    World::FaultName{"air_pump_dead", "the air pump does not turn"},
    World::FaultName{"supply_sags", "the board's supply sags for 2 s when the pump starts"},
    World::FaultName{"bus_stuck",
                     "the air probes are silent until their supply (sensor_rail) was off"},
    World::FaultName{"reservoir_seeps",
                     "water seeps away where no probe meets it: 10 mL/h at severity 0 to 1 L/h "
                     "at 1"},
    World::FaultName{"tray_float_bounces", "the tray level float opens and closes each second"},
    World::FaultName{"pump_switch_hand", "the switch at the pump is set to hand: it runs"},
    World::FaultName{"pump_switch_off", "the switch at the pump is set to off: it stands"},
    World::FaultName{"button_pressed", "the button at the tent is held down"},
    World::FaultName{"solution_sensor_silent", "the probes in the reservoir do not answer"},
};
constexpr std::size_t kTentFaultCount = kTentFaults.size();
static_assert(kTentFaultCount == static_cast<std::size_t>(TentFault::solution_sensor_silent) + 1);

// Which are active, and how badly (0..1).
struct FaultsNow {
  std::array<bool, kTentFaultCount> active{};
  std::array<double, kTentFaultCount> severity{};
  constexpr bool operator[](TentFault f) const { return active[static_cast<std::size_t>(f)]; }
  constexpr double severity_of(TentFault f) const { return severity[static_cast<std::size_t>(f)]; }
  friend bool operator==(const FaultsNow&, const FaultsNow&) = default;
};

}  // namespace neap::drivers::simulated
