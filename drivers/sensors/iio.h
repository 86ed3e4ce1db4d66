// Air, light and leaf sensors that the kernel drives through industrial I/O: bme280, hdc2010, a lux
// meter, an infrared thermometer (mlx90614), whose object is a leaf. A channel that the chip has
// not is absent; map the ones it has.
//
// Decimals differ: 23500 on Linux 6.1 is 23500.000000000 on 6.12; both are read alike.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kIio;

}  // namespace neap::drivers
