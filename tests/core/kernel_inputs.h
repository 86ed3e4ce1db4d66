// Kernel inputs in which all is well: what the interlock tests spoil one thing at a time.
#pragma once

#include "daemon/core/interlock.h"

namespace neap::test {

inline KernelInputs all_well() {
  KernelInputs in;
  in.leak = LeakSeen::dry;
  in.leak_confirmed = false;
  in.tray_high = FloatSeen::clear;
  in.tray_full = FloatSeen::clear;
  in.reservoir = LevelSeen::enough;
  in.fill_expired = false;
  in.lost_water = false;
  in.drain_expired = false;
  in.run_expired = false;
  in.budget_cycle_spent = false;
  in.budget_hour_spent = false;
  in.budget_day_spent = false;
  in.unsaved = false;
  in.pump_seen = PumpSeen::obeys;
  in.deaf = false;
  in.service = false;
  in.rail_off = false;
  in.supply_low = false;
  in.heat = Heat::normal;
  in.bucket_full = false;
  in.covered = LevelSeen::enough;
  in.water = WaterSeen::normal;
  in.outputs_proven = true;
  in.first_inputs_seen = true;
  return in;
}

}  // namespace neap::test
