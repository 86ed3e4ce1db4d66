// A float, a leak contact or any switch on a GPIO line.
//
// The kernel debounces the line and keeps its edges; each edge has the hub read at once. finish()
// says what the first edge since the last read went to, so that a contact that was wet for a moment
// is told as wet once, and the level of the line where there was no edge or edges were lost.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kGpioContact;

}  // namespace neap::drivers
