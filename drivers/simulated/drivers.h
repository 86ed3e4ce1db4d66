// The simulated tent's drivers, as the registry lists them. They reach the tent through
// Context::world; where that is no Tent every reading is Fault::no_answer.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kSimulatedAir;       // temperature, humidity; with {place: canopy}
extern const SensorInfo kSimulatedLeaf;      // temperature
extern const SensorInfo kSimulatedSolution;  // temperature, ph, ec
extern const SensorInfo kSimulatedLevel;     // level, litres in the reservoir
extern const SensorInfo kSimulatedContacts;  // floats, leak probes, pump proof, bucket
extern const SensorInfo kSimulatedLight;     // light, lx over the canopy
extern const OutputDriverInfo kSimulatedOutput;

}  // namespace neap::drivers
