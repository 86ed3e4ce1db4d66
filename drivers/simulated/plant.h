// The plant: tent, table and room as physics alone, without clock, lock, listener or sensor. A
// plant never changes; all that does is a plain State, so that a state can be copied, stepped along
// several courses of action and compared to the bit.
#pragma once

#include <cstdint>

#include "daemon/core/outputs.h"
#include "daemon/core/units.h"
#include "drivers/simulated/parameters.h"
#include "drivers/simulated/state.h"
#include "drivers/simulated/water.h"
#include "drivers/simulated/weather.h"

namespace neap::drivers::simulated {

// What is really so, for tests and for the report of a run; no sensor lies between.
struct Truth {
  double air_c = 0, air_percent = 0, air_w = 0, vpd_kpa = 0;
  double leaf_c = 0, leaf_vpd_kpa = 0;
  double room_c = 0, room_w = 0, room_vpd_kpa = 0;
  double medium_c = 0, reservoir_c = 0;
  double tray_l = 0, reservoir_l = 0, medium_l = 0, floor_l = 0;
  double ec = 0, ph = 0;
  Floats floats;
  Ledger ledger;
  // What is inside less what came in: constant to rounding when nothing is made or lost.
  double water_balance_kg = 0;
  double heat_balance_j = 0;
  double heat_held_j = 0;
  double elapsed_s = 0;
};

class Plant {
 public:
  // `local_start_s`: seconds since 1970-01-01 on the local civil scale at the start of the run.
  Plant(const Parameters& parameters, Weather weather, std::int64_t local_start_s);

  // At the temperature and humidity of the room, medium full, reservoir filled.
  State start() const;

  // The outputs as they act, with the faults that stand between command and effect. The canopy of
  // `s` stands in the new light at once.
  Acting act(State& s, const PerOutput<Permille>& outputs) const;

  // One second of everything.
  void step(State& s, const Acting& a) const;

  // `seconds` at once of air and room, with the water by the second while it moves: for looking
  // ahead. Probes stand still. At 5 s the air is within 0.01 kPa and 0.05 K of single seconds in
  // tents whose air is not exchanged faster than every 20 s.
  void stride(State& s, const Acting& a, int seconds) const;

  // Nothing flows, stands or seeps but vapour: only then may `coast` be used.
  bool is_still(const State& s, const Acting& a) const;

  // `seconds` at once with floats and probes following, for thousands of weeks: as `stride` for the
  // air. At 10 s a day's VPD is within 0.01 kPa (root mean square) of single seconds.
  void coast(State& s, const Acting& a, int seconds) const;

  Truth truth(const State& s) const;
  const Parameters& parameters() const { return parameters_; }

 private:
  void surround(State& s) const;
  // What comes at its own times: weather, growth, the grower's round.
  void meet(State& s, std::int64_t seconds) const;

  Parameters parameters_;
  Hydraulics hydraulics_;
  Weather weather_;
  std::int64_t local_start_s_;
};

}  // namespace neap::drivers::simulated
