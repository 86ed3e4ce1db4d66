// Air temperature and humidity through the kernel's hwmon drivers (sht4x, sht3x, hdc2010, ...).
//
// The device is looked for by name at each begin(), because its number changes when it is
// unplugged. Nothing of that name is absent; more than one that fits is ambiguous, and `device`
// tells twins apart by a whole component of the resolved path, such as 1-0044 for address 0x44 on
// I2C bus 1.
//
// The kernel may keep a value for up to 2 s (sht4x) before it measures again.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kHwmon;

}  // namespace neap::drivers
