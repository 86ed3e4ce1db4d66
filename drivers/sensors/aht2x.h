// AHT20, AHT21: air temperature and humidity by neap itself; Debian's kernels have no module for
// them.
//
// Command 0xAC 0x33 0x00, ready after 80 ms; then seven bytes: state, twenty bits each of humidity
// and temperature, and the CRC over all six.
//   humidity = 100 * S / 2^20, in % RH        temperature = -50 + 200 * S / 2^20, in C
// State bit 7 still set, or bit 3 (calibrated) not: not_ready. revive() sends the soft reset.
// Source: Aosong, data sheet AHT20, sections 5.3, 5.4 and 6. Its address is 0x38 always.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kAht2x;

}  // namespace neap::drivers
