// DS18B20 and its kin through the kernel's 1-Wire driver (w1_therm), up to four probes of one
// entry.
//
// A probe is known by its id, which is burnt into it: a new one in its place is not taken for it.
//
// begin() asks each master to let all its probes convert together (`therm_bulk_read`): the kernel
// waits 750 ms for all of them at once, and finish() only fetches. Where that file is missing or
// may not be written each probe converts in finish(), up to 0.95 s one after the other. Probes of
// one master therefore belong into one entry.
//
// What the kernel hides, seen on 6.1 and read in its source (drivers/w1/slaves/w1_therm.c):
//   - a failed read, and a probe that was unplugged, are an empty file: no_answer;
//   - 85.000 C is what the chip holds after it got power; the kernel refuses it for bit 1 of
//     `features`, which is set here where it may be, but not after a bulk conversion. This driver
//     calls it power_on_value in any case; water of 85 C has no plants in it;
//   - 127.94 C is a conversion cut short by a weak supply: corrupt.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kOneWire;

}  // namespace neap::drivers
