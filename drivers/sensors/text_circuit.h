// Carrier boards for pH and EC probes that speak text on I2C: the command "R", a wait, then a byte
// of state and a number in ASCII with a NUL at its end.
//
//   1 success · 2 syntax error: corrupt · 254 still measuring, 255 nothing to say: not_ready
//
// text_ph reads pH, text_ec reads microsiemens per centimetre and delivers mS/cm. Anything but one
// plain number is corrupt: letters, a second number (switch the other outputs of an EC board off),
// no NUL, something behind it. So is a byte over 127, which boards with clock stretching cause on
// I2C controllers that do not wait for them: a bus by software (dtoverlay=i2c-gpio) does.
//
// The wait of 900 ms, the states and the usual addresses are those of the data sheets of boards of
// this kind (pH 0x63, EC 0x64; from memory). The board's own compensation for temperature stays as
// it was set.
#pragma once

#include "drivers/driver.h"

namespace neap::drivers {

extern const SensorInfo kTextPh;
extern const SensorInfo kTextEc;

}  // namespace neap::drivers
