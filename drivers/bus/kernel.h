// What a sensor driver may ask of the kernel, as one interface: attributes of /sys and transfers on
// I2C. A driver that asks nothing else runs unchanged on the machine, on chip models and on a
// recording (drivers/bus/recording.h).
//
// Paths are relative to /sys, as "class/hwmon/hwmon0/name". Calls block as long as the kernel does.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/bus/sysfs.h"
#include "drivers/driver.h"

namespace neap::drivers {

class Kernel {
 public:
  virtual ~Kernel() = default;
  // As in drivers/bus/sysfs.h.
  virtual sysfs::Attribute read(const std::string& path) = 0;
  virtual Fault write(const std::string& path, std::string_view text) = 0;
  // The names in a folder, sorted; none when there is no such folder.
  virtual std::vector<std::string> list(const std::string& folder) = 0;
  // The path with all links followed; none when it is absent or leads out of /sys.
  virtual std::optional<std::string> resolve(const std::string& path) = 0;
  // As in drivers/bus/i2c.h, on the device file `node`, such as "i2c-1".
  virtual Fault transfer(const std::string& node, std::uint8_t address,
                         std::span<const std::uint8_t> out, std::span<std::uint8_t> in) = 0;
};

// The kernel of `context`: the one it brings, else the machine's own below its roots.
std::shared_ptr<Kernel> kernel_of(const Context& context);

// Is `part` one or several whole components of `path`? 1-0044 is not part of devices/11-0044.
bool has_component(std::string_view path, std::string_view part);

// Of the devices in `folder` the one whose attribute `name` is one of `names` and whose resolved
// path has `device` as a component (empty: any). Numbers as in hwmon3 change from boot to boot, so
// nothing is found by them. None that fits is absent, several are ambiguous: a controller does not
// guess which of two probes hangs over the plants.
struct Found {
  std::string path;  // "class/hwmon/hwmon3"; empty with a fault
  Fault fault = Fault::none;
};
Found find_device(Kernel& kernel, const std::string& folder,
                  std::span<const std::string_view> names, const std::string& device);

}  // namespace neap::drivers
