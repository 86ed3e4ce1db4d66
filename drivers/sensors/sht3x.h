// SHT30, SHT31, SHT35: air temperature and humidity by neap itself, because the kernel's sht3x
// driver (6.1 and 6.12) passes a measurement on without looking at its CRC.
//
// Single shot, high repeatability, no clock stretching: command 0x2400, ready after 15 ms at most.
//   temperature = -45 + 175 * S / 65535, in C        humidity = 100 * S / 65535, in % RH
// Source: Sensirion, data sheet SHT3x-DIS, sections 2.2, 4.3 and 4.13. Address 0x44, or 0x45 with
// the pin ADDR high.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kSht3x;

}  // namespace neap::drivers
