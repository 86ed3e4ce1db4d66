// From what the scan knows to what is true: the inputs of the interlock kernel and the conditions
// of every alarm. One place, so that a hazard has one definition.
#pragma once

#include "daemon/core/budget.h"
#include "daemon/core/scan.h"
#include "daemon/core/watch.h"

namespace neap {

// What this scan has seen, shared by its steps.
struct Seen {
  LeakView leak;
  BudgetView budget;
  bool pump_permitted = false;     // the pump could start now
  bool by_hand_permitted = false;  // a person's flood could: its parts are proven, itself not yet
  Because withheld;                // why not
};

KernelInputs kernel_inputs(const Plan& plan, const State& state, const Inputs& inputs,
                           const Seen& seen, Instant now);

Conditions alarm_conditions(const Plan& plan, const State& state, const Inputs& inputs,
                            const Seen& seen, Instant now);

// Two canopy probes further apart than this tell of a pocket of humid air (common practice, no
// source).
constexpr Kilopascal kProbeSpread{0.3};
// An alarm is raised this far beyond the air limit at which control already acts.
constexpr Celsius kOverLimit{1.0};

}  // namespace neap
