// What passed between a driver and the kernel, line by line, so that a sensor of somebody else's
// board can be read again at any desk: a recorder that stands before a kernel, and a kernel that
// answers from such lines.
//
//   read class/hwmon/hwmon0/name -> sht4x
//   write devices/w1_bus_master1/therm_bulk_read trigger\n -> ok
//   list class/hwmon -> hwmon0 hwmon1
//   link class/hwmon/hwmon0 -> devices/platform/i2c-1/1-0044/hwmon/hwmon0
//   i2c i2c-1 0x44 write FD -> ok
//   i2c i2c-1 0x44 read 6 -> BE EF 92 80 00 A2
//   read class/hwmon/hwmon0/temp1_input -> !no_answer
//
// Behind the arrow stands what came back, or an exclamation mark and the fault.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/bus/kernel.h"

namespace neap::drivers {

// Hands every call on to `inner` and one line for each to `sink`.
std::shared_ptr<Kernel> recording_kernel(std::shared_ptr<Kernel> inner,
                                         std::function<void(const std::string&)> sink);

// "no_answer" and back; the faults that a kernel may tell, and those of drivers.
std::string_view recorded_name(Fault fault);
std::optional<Fault> recorded_fault(std::string_view name);

// Answers each call from the next line, which must be the same call: a driver that asks for other
// things than the recorded one gets no_answer, and divergence() tells where.
class ReplayedKernel final : public Kernel {
 public:
  explicit ReplayedKernel(std::vector<std::string> lines) : lines_(std::move(lines)) {}

  sysfs::Attribute read(const std::string& path) override;
  Fault write(const std::string& path, std::string_view text) override;
  std::vector<std::string> list(const std::string& folder) override;
  std::optional<std::string> resolve(const std::string& path) override;
  Fault transfer(const std::string& node, std::uint8_t address, std::span<const std::uint8_t> out,
                 std::span<std::uint8_t> in) override;

  // The first call that the recording does not have, beside what it has there; empty: none.
  const std::string& divergence() const { return divergence_; }
  // Lines that no call has asked for yet.
  std::size_t left() const { return lines_.size() - next_; }

 private:
  // What the recording says to `call`, or the fault it tells.
  struct Answer {
    std::string text;
    Fault fault = Fault::none;
  };
  Answer answer(const std::string& call);

  std::vector<std::string> lines_;
  std::size_t next_ = 0;
  std::string divergence_;
};

}  // namespace neap::drivers
