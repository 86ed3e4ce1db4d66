// What this machine has: chips, lines, buses, and the kernel's settings that matter to a tent. Read
// once, for `neap probe`; nothing is driven, requested or bound. Files are read below `root`, so
// that a test feeds a tree of its own; GPIO chips, which only ioctls describe, come through a
// function for the same reason.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace neap::drivers {

struct GpioLine {
  int offset = 0;
  std::string name;      // of the board's device tree: GPIO17; may be empty
  std::string consumer;  // who holds it; may be empty though it is held
  bool held = false;
  bool output = false;
};
struct GpioChip {
  std::string path;   // /dev/gpiochip0, a number that changes between boots
  std::string label;  // pinctrl-bcm2711, which does not
  std::vector<GpioLine> lines;
  std::string error;  // why it could not be read, in the system's words; else empty
};
using ReadGpioChip = std::function<GpioChip(const std::string& path)>;
// By GPIO_GET_CHIPINFO_IOCTL and GPIO_V2_GET_LINEINFO_IOCTL (linux/gpio.h, Linux 5.10).
GpioChip read_gpio_chip(const std::string& path);

struct NamedDevice {
  std::string path;    // /dev/i2c-1; class/hwmon/hwmon2; bus/iio/devices/iio:device0
  std::string name;    // as the kernel's file `name` has it
  std::string device;  // a component that stays: 1-0044, 1f00098000.pwm
  bool usable = true;  // this user may open it (device nodes alone)
};
// What kernels call the IIO chip that settings name: ads1115 is ads1015 on Linux 6.1.
std::vector<std::string> iio_names(const std::string& chip);

struct Watchdog {
  std::string path;
  std::string identity;
  std::optional<int> timeout_s;
  std::optional<bool> armed;  // it runs, and starts the board anew when nobody feeds it
};

struct Survey {
  std::string board;   // model of the device tree; empty where there is none
  std::string kernel;  // release
  std::vector<GpioChip> gpio_chips;
  std::vector<NamedDevice> i2c_buses;    // with /dev node
  std::vector<NamedDevice> i2c_devices;  // that a kernel driver has bound: name, device 1-0044
  std::vector<NamedDevice> hwmon;
  std::vector<NamedDevice> iio;
  std::vector<NamedDevice> one_wire;  // sensors, by their id
  std::vector<NamedDevice> pwm_chips;
  std::vector<Watchdog> watchdogs;
  std::optional<bool> gpio_persists;      // outputs keep their level when their process dies
  std::optional<bool> undervoltage;       // of the board, since the last look of the kernel
  std::optional<bool> time_synchronised;  // systemd-timesyncd's mark; none: another way
};

Survey survey(const std::string& root, const ReadGpioChip& read_chip);

}  // namespace neap::drivers
