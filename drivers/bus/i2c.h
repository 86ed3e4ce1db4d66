// Chips on I2C that neap drives itself, through the kernel's device files /dev/i2c-N.
//
// The number N changes when an overlay is added, so settings may name a bus by its adapter's name
// ("bcm2835 (i2c@7e804000)", as `i2cdetect -l` prints it) or by a component of the adapter's device
// path ("fe804000.i2c"); the number itself is accepted too.
//
// A bus that hangs costs the adapter's timeout for each message: 1 s on most, set by the adapter's
// driver and left alone here, because it is common to all users of the bus.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>

#include "drivers/bus/kernel.h"
#include "drivers/driver.h"

namespace neap::drivers::i2c {

// Longest transfer either way, in bytes. No chip here says more at once.
inline constexpr std::size_t kLongest = 64;

// Writes `out`, then reads `in`; with both in one transfer (repeated start). An empty span is left
// out. The kernel's error as drivers/bus/errors.h has it: no_answer when the address does not
// acknowledge, hung when the bus does not end the transfer, taken when a kernel driver has the
// address, absent without the device file, denied without the right to open it.
Fault transfer(const std::filesystem::path& node, std::uint8_t address,
               std::span<const std::uint8_t> out, std::span<std::uint8_t> in);

// The device file of the bus that settings call `bus`.
struct Node {
  std::string name;  // "i2c-1"; empty with a fault
  Fault fault = Fault::none;
};
Node find_bus(Kernel& kernel, const std::string& bus);

// Lets the kernel take the adapter down and set it up again (unbind and bind of its driver), which
// frees its controller and, where the driver knows how, clocks out a chip that holds the data line.
// Refused while a kernel driver serves another chip on that bus: with it might go the expander
// that holds the pump's relay. False too without the right to do it, which takes a udev rule.
//
// Where the driver lets the adapter go and does not take it back, the bus is gone with its number:
// `down` then says which adapter it is, and the next call tries to bind it before anything else.
struct DownAdapter {
  std::string driver;  // its folder
  std::string device;
};
bool revive(Kernel& kernel, const std::string& bus, std::optional<DownAdapter>& down);

// One chip: its bus is looked for anew at each begin().
class Chip {
 public:
  // Takes the params `bus` and `address`.
  Chip(const Params& params, const Context& context);

  Fault write(std::span<const std::uint8_t> out);
  Fault read(std::span<std::uint8_t> in);
  // When the last transfer found the bus hung: as revive() below. False otherwise.
  bool revive_bus();
  // What a person should know of the bus; empty when nothing.
  std::string trouble() const;

 private:
  Fault transfer(std::span<const std::uint8_t> out, std::span<std::uint8_t> in);

  std::shared_ptr<Kernel> kernel_;
  std::string bus_;
  std::uint8_t address_;
  Fault last_ = Fault::none;
  std::optional<DownAdapter> down_;
};

// What makes the kernel offer I2C on the board's pins.
inline constexpr std::string_view kBootLine = "dtparam=i2c_arm=on, and the module i2c-dev";

// The params that all drivers of I2C chips share. `fallback` is the chip's usual address.
constexpr ParamSpec bus_param() {
  return {
      "bus", ParamKind::text,
      false, "1",
      0,     0,
      "",    "the I2C bus: its number, its adapter's name, or a component of the adapter's path"};
}
constexpr ParamSpec address_param(std::string_view fallback, std::string_view why) {
  return {"address", ParamKind::integer, false, fallback, 0x08, 0x77, "", why};
}
std::string strand(const Params& params);  // one a bus

// CRC-8 as Sensirion's humidity sensors append it to each word of 16 bits: polynomial 0x31, initial
// value 0xFF, no reflection, no final XOR; 0xBE 0xEF gives 0x92 (data sheets of SHT3x-DIS and
// SHT4x).
std::uint8_t crc8(std::span<const std::uint8_t> bytes);

// The first word of `triple` (two bytes, most significant first, and their CRC); none when the CRC
// is another.
std::optional<std::uint16_t> checked_word(std::span<const std::uint8_t, 3> triple);

}  // namespace neap::drivers::i2c
