// Any program that speaks JSON lines on its standard input and output is a sensor or an output.
// schema/program-driver.md is the protocol, written for the author of such a program.
//
// The program runs in its own process group and is killed as a group. A driver has no clock and may
// not retry, so nothing here restarts a program by itself: after its death the next begin() or
// write() starts it anew, and the hub, which lengthens the period of a failing sensor up to 5 min,
// is what keeps a broken program from being started in a circle.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kProgramSensor;
extern const OutputDriverInfo kProgramOutput;

}  // namespace neap::drivers
