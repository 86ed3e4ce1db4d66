// What a converter of the kernel (an ADS1115, say) or another industrial I/O input reads, made into
// pH, EC or litres by a calibration curve of two or more pairs.
//
//   analog_ph     pH of a probe's amplifier; two buffers give the line, which goes on beyond them
//   analog_ec     EC of a conductivity board, the same way
//   analog_level  litres by a pressure, ultrasonic or resistive sensor, through the tank's table;
//                 a tenth of the table beyond its ends its line goes on, but never below empty;
//                 further out is out_of_range: a wire, or another tank
//
// No compensation for temperature is made here: what a curve says holds for the temperature it was
// taken at.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kAnalogPh;
extern const SensorInfo kAnalogEc;
extern const SensorInfo kAnalogLevel;

}  // namespace neap::drivers
