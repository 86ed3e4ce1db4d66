// Air sensors on I2C that measure on a command and then answer with two words of 16 bits, each with
// its CRC: temperature first, then relative humidity. What SHT3x and SHT4x have in common.
//
// begin() sends the command; finish(), `ready_after` later, reads six bytes. A word whose CRC is
// another is Fault::corrupt for its own channel alone. A chip that has no measurement ready does
// not acknowledge the read: no_answer. revive() sends the reset command, then, on a bus that hangs,
// lets the kernel set up the adapter anew (drivers/bus/i2c.h).
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <span>

#include "drivers/driver.h"

namespace neap::drivers {

struct TwoWordChip {
  std::span<const std::uint8_t> measure;  // command bytes
  std::span<const std::uint8_t> reset;
  Millis ready_after;
  double (*celsius)(std::uint16_t word);
  double (*percent)(std::uint16_t word);
};

inline constexpr std::array kTwoWordChannels{
    ChannelSpec{"temperature", "C", -40, 125},
    ChannelSpec{"humidity", "%", 0, 100},
};

std::unique_ptr<Sensor> make_two_word_sensor(const TwoWordChip& chip, const Params& params,
                                             Context& context);

// Two transfers of a hung bus at 1 s each, and the reset of its adapter.
constexpr Millis kTwoWordDeadline{2500};

}  // namespace neap::drivers
