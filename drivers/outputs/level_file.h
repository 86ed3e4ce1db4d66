// An output behind a file that takes one number: a relay as an LED of the kernel (brightness), a
// fan as a hwmon pwm1, a DAC as out_voltage0_raw, or a plain file where a test looks on.
//
// `running` and `stopped` are the numbers for full level and none; swapping them inverts the drive.
// With `variable: true` the levels between lie on the straight line; without, a level between is
// refused as out_of_range. The file is never created: where it is absent the device is, and write()
// says no_answer. It keeps its number when neapd dies; neap-outputs-safe is there for that.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const OutputDriverInfo kLevelFile;

}  // namespace neap::drivers
