#include "drivers/sensors/sht4x.h"

#include <algorithm>
#include <array>

#include "drivers/bus/i2c.h"
#include "drivers/sensors/two_word_chip.h"

namespace neap::drivers {
namespace {

constexpr double kFullScale = 65535;

constexpr std::array<std::uint8_t, 1> kMeasure{0xFD};
constexpr std::array<std::uint8_t, 1> kReset{0x94};

constexpr TwoWordChip kChip{
    .measure = kMeasure,
    .reset = kReset,
    .ready_after = Millis{10},
    .celsius = [](std::uint16_t word) { return -45 + 175 * word / kFullScale; },
    .percent =
        [](std::uint16_t word) { return std::clamp(-6 + 125 * word / kFullScale, 0.0, 100.0); },
};

constexpr std::array kParams{
    i2c::bus_param(),
    i2c::address_param("0x44", "its address, by type: 0x44, 0x45 or 0x46"),
};

std::unique_ptr<Sensor> make(const Params& params, Context& context) {
  return make_two_word_sensor(kChip, completed(params, kParams), context);
}

}  // namespace

constinit const SensorInfo kSht4x{
    .name = "sht4x",
    .about = "air temperature and humidity from an SHT40, SHT41 or SHT45, each word's CRC checked",
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
