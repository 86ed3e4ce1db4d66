// Every driver, one line each. A driver that is not listed here does not exist for settings.
#include <algorithm>
#include <array>

#include "drivers/driver.h"
#include "drivers/outputs/dac.h"
#include "drivers/outputs/gpio_relay.h"
#include "drivers/outputs/level_file.h"
#include "drivers/outputs/pwm.h"
#include "drivers/program/program.h"
#include "drivers/sensors/aht2x.h"
#include "drivers/sensors/analog.h"
#include "drivers/sensors/gpio_contact.h"
#include "drivers/sensors/hwmon.h"
#include "drivers/sensors/iio.h"
#include "drivers/sensors/leak_rope.h"
#include "drivers/sensors/one_wire.h"
#include "drivers/sensors/sht3x.h"
#include "drivers/sensors/sht4x.h"
#include "drivers/sensors/tachometer.h"
#include "drivers/sensors/text_circuit.h"
#include "drivers/simulated/drivers.h"

namespace neap::drivers {
namespace {

constexpr std::array kSensorDrivers{
    &kGpioContact,        // lines of GPIO chips
    &kTachometer,         //
    &kHwmon,              // chips that the kernel drives
    &kIio,                //
    &kOneWire,            //
    &kAnalogPh,           // inputs of converters that the kernel drives
    &kAnalogEc,           //
    &kAnalogLevel,        //
    &kLeakRope,           //
    &kSht3x,              // chips on I2C that neap drives
    &kSht4x,              //
    &kAht2x,              //
    &kTextPh,             //
    &kTextEc,             //
    &kProgramSensor,      // a program of the grower
    &kSimulatedAir,       // the simulated tent, from here on
    &kSimulatedLeaf,      //
    &kSimulatedSolution,  //
    &kSimulatedLevel,     //
    &kSimulatedContacts,  //
    &kSimulatedLight,     //
};

constexpr std::array kOutputDrivers{
    &kDac, &kGpioRelay, &kLevelFile, &kProgramOutput, &kPwmFan, &kPwmLight, &kSimulatedOutput,
};

template <class Drivers>
auto find(const Drivers& drivers, std::string_view name) -> typename Drivers::value_type {
  const auto found = std::find_if(drivers.begin(), drivers.end(),
                                  [name](const auto* driver) { return driver->name == name; });
  return found == drivers.end() ? nullptr : *found;
}

}  // namespace

std::span<const SensorInfo* const> sensor_drivers() { return kSensorDrivers; }
std::span<const OutputDriverInfo* const> output_drivers() { return kOutputDrivers; }

const SensorInfo* find_sensor_driver(std::string_view name) { return find(kSensorDrivers, name); }
const OutputDriverInfo* find_output_driver(std::string_view name) {
  return find(kOutputDrivers, name);
}

}  // namespace neap::drivers
