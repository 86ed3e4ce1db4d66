// A 0-10 V input of a fan or a lamp, driven by a DAC that the kernel knows (IIO, such as the
// mcp4725) and an amplifier behind it: the number in out_voltageN_raw.
//
// The DAC keeps its voltage when neapd dies, and through a restart of the board while it has
// supply; neap-outputs-safe sets the safe one. What it puts out before the first write is its own
// power-on value.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const OutputDriverInfo kDac;

}  // namespace neap::drivers
