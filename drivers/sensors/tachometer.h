// Pulses on a GPIO line: the wheel of a flow meter in the pump's hose, or the tachometer wire of a
// fan or pump. Told as turning or not.
//
// The kernel numbers each pulse and stamps it (CLOCK_MONOTONIC), so the rate is the difference of
// two numbers over the difference of two stamps: no clock of ours, and nothing is lost where the
// kernel's queue overflows. begin() opens a window, finish() looks at the pulses in it.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kTachometer;

}  // namespace neap::drivers
