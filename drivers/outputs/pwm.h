// A fan with four wires, or a lamp's dimming input, on a PWM channel of the kernel
// (/sys/class/pwm).
//
// The order of the writes is the kernel's (Documentation/driver-api/pwm.rst, seen on 6.1 and 6.12):
// export; polarity only while disabled; a period is refused while it is shorter than the duty, a
// duty before there is a period; enable last. A channel that stands right gets its duty alone. It
// stays enabled at level 0: a disabled pin has no defined level. Inversion is done in the duty and
// not by the polarity, which not every chip knows.
//
// The channel keeps its duty when neapd dies; neap-outputs-safe sets the safe one. A start kick
// (full level for a moment) would need a clock, which a driver has not: `lowest`, or `floor` in the
// settings, is the level at which the fan surely starts.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const OutputDriverInfo kPwmFan;    // 25 kHz, what four-wire fans are made for
extern const OutputDriverInfo kPwmLight;  // 1 kHz, within what dimming inputs take

}  // namespace neap::drivers
