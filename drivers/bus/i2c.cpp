#include "drivers/bus/i2c.h"

#include <fcntl.h>
#include <linux/i2c-dev.h>
#include <linux/i2c.h>
#include <sys/ioctl.h>

#include <algorithm>
#include <array>
#include <cerrno>

#include "drivers/bus/descriptor.h"
#include "drivers/bus/errors.h"

namespace neap::drivers::i2c {

Fault transfer(const std::filesystem::path& node, std::uint8_t address,
               std::span<const std::uint8_t> out, std::span<std::uint8_t> in) {
  if (out.size() > kLongest || in.size() > kLongest) return Fault::out_of_range;
  const Descriptor bus{::open(node.c_str(), O_RDWR | O_CLOEXEC)};
  if (!bus) return fault_of(errno);
  // I2C_RDWR alone would not see that a kernel driver talks to the same chip; this does (EBUSY).
  if (::ioctl(bus.get(), I2C_SLAVE, static_cast<unsigned long>(address)) < 0)
    return fault_of(errno);

  std::array<std::uint8_t, kLongest> written{};  // the kernel's structure wants it writable
  std::copy(out.begin(), out.end(), written.begin());
  std::array<i2c_msg, 2> messages{};
  unsigned count = 0;
  if (!out.empty())
    messages[count++] = {address, 0, static_cast<std::uint16_t>(out.size()), written.data()};
  if (!in.empty())
    messages[count++] = {address, I2C_M_RD, static_cast<std::uint16_t>(in.size()), in.data()};
  i2c_rdwr_ioctl_data all{messages.data(), count};
  const int done = ::ioctl(bus.get(), I2C_RDWR, &all);
  if (done < 0) return fault_of(errno);
  return static_cast<unsigned>(done) == count ? Fault::none : Fault::no_answer;
}

Node find_bus(Kernel& kernel, const std::string& bus) {
  if (!bus.empty() && bus.find_first_not_of("0123456789") == bus.npos)
    return {"i2c-" + bus, Fault::none};
  const std::string folder = "class/i2c-dev";
  Node only{{}, Fault::absent};
  for (const std::string& entry : kernel.list(folder)) {
    const std::string path = folder + "/" + entry;
    const bool named = kernel.read(path + "/name").text == bus;
    const auto real = named ? std::nullopt : kernel.resolve(path);
    if (!named && !(real && has_component(*real, bus))) continue;
    if (!only.name.empty()) return {{}, Fault::ambiguous};
    only = {entry, Fault::none};
  }
  return only;
}

Chip::Chip(const Params& params, const Context& context)
    : kernel_(kernel_of(context)),
      bus_(params.text("bus")),
      address_(static_cast<std::uint8_t>(params.integer("address"))) {}

Fault Chip::transfer(std::span<const std::uint8_t> out, std::span<std::uint8_t> in) {
  const Node node = find_bus(*kernel_, bus_);
  last_ = node.fault == Fault::none ? kernel_->transfer(node.name, address_, out, in) : node.fault;
  return last_;
}

bool Chip::revive_bus() { return (last_ == Fault::hung || down_) && revive(*kernel_, bus_, down_); }

std::string Chip::trouble() const {
  if (!down_) return {};
  return "its adapter " + down_->device +
         " was to be set up anew, and the kernel did not take it back; that is tried again, and a "
         "restart of the board does it";
}

Fault Chip::write(std::span<const std::uint8_t> out) { return transfer(out, {}); }
Fault Chip::read(std::span<std::uint8_t> in) { return transfer({}, in); }

bool revive(Kernel& kernel, const std::string& bus, std::optional<DownAdapter>& down) {
  const auto bind = [&](const DownAdapter& adapter) {
    return kernel.write(adapter.driver + "/bind", adapter.device) == Fault::none;
  };
  if (down) {
    const bool up = bind(*down);
    if (up) down.reset();
    return up;
  }
  const Node node = find_bus(kernel, bus);
  if (node.fault != Fault::none) return false;
  // devices/platform/soc/fe804000.i2c/i2c-1/i2c-dev/i2c-1
  const auto real = kernel.resolve("class/i2c-dev/" + node.name);
  const std::string tail = "/" + node.name + "/i2c-dev/" + node.name;
  if (!real || !real->ends_with(tail)) return false;
  const std::string parent = real->substr(0, real->size() - tail.size());
  const std::string adapter = parent + "/" + node.name;
  for (const std::string& entry : kernel.list(adapter))
    if (kernel.resolve(adapter + "/" + entry + "/driver")) return false;  // another chip is served
  const auto driver = kernel.resolve(parent + "/driver");
  if (!driver) return false;
  const DownAdapter controller{*driver, parent.substr(parent.rfind('/') + 1)};
  if (kernel.write(controller.driver + "/unbind", controller.device) != Fault::none) return false;
  if (bind(controller)) return true;
  down = controller;
  return false;
}

std::string strand(const Params& params) {
  const std::string bus = params.text("bus");
  return "i2c:" + (bus.empty() ? std::string{bus_param().fallback} : bus);
}

std::uint8_t crc8(std::span<const std::uint8_t> bytes) {
  constexpr unsigned kPolynomial = 0x31;
  unsigned crc = 0xFF;
  for (const std::uint8_t byte : bytes) {
    crc ^= byte;
    for (int bit = 0; bit < 8; ++bit)
      crc = ((crc & 0x80U) != 0 ? (crc << 1) ^ kPolynomial : crc << 1) & 0xFFU;
  }
  return static_cast<std::uint8_t>(crc);
}

std::optional<std::uint16_t> checked_word(std::span<const std::uint8_t, 3> triple) {
  if (crc8(triple.first<2>()) != triple[2]) return std::nullopt;
  return static_cast<std::uint16_t>(triple[0] << 8 | triple[1]);
}

}  // namespace neap::drivers::i2c
