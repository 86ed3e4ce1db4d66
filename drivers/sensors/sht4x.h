// SHT40, SHT41, SHT45: air temperature and humidity by neap itself. The kernel's driver checks CRCs
// too, but hands out a value for up to 2 s; this one measures when it is asked.
//
// High precision: command 0xFD, ready after 8.3 ms at most.
//   temperature = -45 + 175 * S / 65535, in C        humidity = -6 + 125 * S / 65535, in % RH
// The second line reaches 6 % beyond both ends of the scale; what lies there is cut to 0 and 100 %,
// as the data sheet says: near an end it is still a measurement.
// Source: Sensirion, data sheet SHT4x, sections 4.3, 4.5 and 4.6. Address 0x44; other types of the
// chip have 0x45 or 0x46.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kSht4x;

}  // namespace neap::drivers
