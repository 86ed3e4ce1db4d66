#include "drivers/sensors/sht3x.h"

#include <array>

#include "drivers/bus/i2c.h"
#include "drivers/sensors/two_word_chip.h"

namespace neap::drivers {
namespace {

constexpr double kFullScale = 65535;

constexpr std::array<std::uint8_t, 2> kMeasure{0x24, 0x00};
constexpr std::array<std::uint8_t, 2> kReset{0x30, 0xA2};

constexpr TwoWordChip kChip{
    .measure = kMeasure,
    .reset = kReset,
    .ready_after = Millis{20},
    .celsius = [](std::uint16_t word) { return -45 + 175 * word / kFullScale; },
    .percent = [](std::uint16_t word) { return 100 * word / kFullScale; },
};

constexpr std::array kParams{
    i2c::bus_param(),
    i2c::address_param("0x44", "its address: 0x44, or 0x45 with the pin ADDR high"),
};

std::unique_ptr<Sensor> make(const Params& params, Context& context) {
  return make_two_word_sensor(kChip, completed(params, kParams), context);
}

}  // namespace

constinit const SensorInfo kSht3x{
    .name = "sht3x",
    .about = "air temperature and humidity from an SHT30, SHT31 or SHT35, each word's CRC checked",
    .channels = kTwoWordChannels,
    .params = kParams,
    .fastest_period = seconds{1},
    .deadline = kTwoWordDeadline,
    .simulated = false,
    .strand = i2c::strand,
    .make = make,
    .boot_line = i2c::kBootLine,
};

}  // namespace neap::drivers
