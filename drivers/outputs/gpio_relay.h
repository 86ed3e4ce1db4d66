// A relay, a solid-state switch or a transistor on a GPIO line: an output that knows running and
// stopped.
//
// All relays of one chip leave the boot's pull together, at the first write to any of them, each at
// the level that its output is safe at (core/outputs.h). When neapd dies the line falls to its pull
// or keeps its level, as the chip likes: neap-outputs-safe is there for that, and a normally-open
// contact with a pull resistor for the time before it.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const OutputDriverInfo kGpioRelay;

}  // namespace neap::drivers
