#include "drivers/bus/survey.h"

#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <filesystem>

#include "drivers/bus/iio.h"
#include "drivers/bus/sysfs.h"

namespace neap::drivers {
namespace {

namespace fs = std::filesystem;

// Without the NUL that a device tree ends its texts with; none when it cannot be read.
std::optional<std::string> line_of(const fs::path& file) {
  auto text = sysfs::read_attribute(file).text;
  if (text) text->resize(std::min(text->find('\0'), text->size()));
  return text;
}

std::optional<int> number_of(const fs::path& file) {
  const auto line = line_of(file);
  int value = 0;
  if (!line || line->empty()) return std::nullopt;
  const auto [end, error] = std::from_chars(line->data(), line->data() + line->size(), value);
  if (error != std::errc{} || end != line->data() + line->size()) return std::nullopt;
  return value;
}

// By length first: gpiochip10 comes after gpiochip2.
bool by_number(const fs::path& a, const fs::path& b) {
  const std::string x = a.string();
  const std::string y = b.string();
  return x.size() != y.size() ? x.size() < y.size() : x < y;
}

std::vector<fs::path> entries(const fs::path& folder, const std::string& prefix) {
  std::vector<fs::path> found;
  std::error_code none;
  for (fs::directory_iterator at(folder, none), end; !none && at != end; at.increment(none))
    if (at->path().filename().string().starts_with(prefix)) found.push_back(at->path());
  std::sort(found.begin(), found.end(), by_number);
  return found;
}

// Where a class entry hangs: the last component of its `device` link.
std::string device_of(const fs::path& entry) {
  std::error_code none;
  const fs::path target = fs::canonical(entry / "device", none);
  return none ? std::string() : target.filename().string();
}

// An entry of a bus hangs below its device itself, and has no such link.
std::string parent_of(const fs::path& entry) {
  std::error_code none;
  const fs::path target = fs::canonical(entry, none);
  return none ? std::string() : target.parent_path().filename().string();
}

std::vector<NamedDevice> named(const fs::path& folder, const std::string& prefix,
                               const fs::path& sys) {
  std::vector<NamedDevice> found;
  for (const fs::path& entry : entries(folder, prefix)) {
    NamedDevice device;
    device.path = fs::path(entry).lexically_relative(sys).string();
    device.name = line_of(entry / "name").value_or("");
    device.device = device_of(entry);
    found.push_back(std::move(device));
  }
  return found;
}

std::vector<NamedDevice> i2c_buses(const fs::path& root) {
  std::vector<NamedDevice> found;
  for (const fs::path& node : entries(root / "dev", "i2c-")) {
    NamedDevice bus;
    const std::string name = node.filename().string();
    bus.path = "/dev/" + name;
    bus.device = name;
    bus.name = line_of(root / "sys/class/i2c-dev" / name / "name").value_or("");
    bus.usable = ::access(node.c_str(), R_OK | W_OK) == 0;
    found.push_back(std::move(bus));
  }
  return found;
}

// Chips of an I2C bus: 1-0044, and not the buses themselves.
std::vector<NamedDevice> i2c_devices(const fs::path& sys) {
  std::vector<NamedDevice> found;
  for (const fs::path& entry : entries(sys / "bus/i2c/devices", "")) {
    const std::string name = entry.filename().string();
    std::error_code none;
    if (name.starts_with("i2c-") || !fs::exists(entry / "driver", none)) continue;
    found.push_back(
        {entry.lexically_relative(sys).string(), line_of(entry / "name").value_or(""), name, true});
  }
  return found;
}

std::vector<NamedDevice> one_wire(const fs::path& sys) {
  std::vector<NamedDevice> found;
  for (const fs::path& entry : entries(sys / "bus/w1/devices", "")) {
    const std::string id = entry.filename().string();
    if (id.starts_with("w1_bus_master")) continue;
    found.push_back({entry.lexically_relative(sys).string(), id, id, true});
  }
  return found;
}

// A resolved path: the chip's number says nothing of where it is.
std::vector<NamedDevice> pwm_chips(const fs::path& sys) {
  std::vector<NamedDevice> found = named(sys / "class/pwm", "pwmchip", sys);
  for (NamedDevice& chip : found) {
    const auto channels = number_of(sys / chip.path / "npwm");
    chip.name =
        channels ? std::to_string(*channels) + " channels" : std::string("channels unknown");
  }
  return found;
}

// Somebody has opened it and must feed it; older kernels do not tell.
std::optional<bool> armed(const fs::path& dog) {
  const auto said = line_of(dog / "state");
  if (!said || (*said != "active" && *said != "inactive")) return std::nullopt;
  return *said == "active";
}

std::vector<Watchdog> watchdogs(const fs::path& sys) {
  std::vector<Watchdog> found;
  for (const fs::path& entry : entries(sys / "class/watchdog", "watchdog"))
    found.push_back({"/dev/" + entry.filename().string(), line_of(entry / "identity").value_or(""),
                     number_of(entry / "timeout"), armed(entry)});
  return found;
}

std::optional<bool> undervoltage(const std::vector<NamedDevice>& hwmon, const fs::path& sys) {
  for (const NamedDevice& chip : hwmon)
    if (chip.name == "rpi_volt")
      if (const auto alarm = number_of(sys / chip.path / "in0_lcrit_alarm")) return *alarm != 0;
  return std::nullopt;
}

std::optional<bool> gpio_persists(const fs::path& sys) {
  const auto said = line_of(sys / "module/pinctrl_bcm2835/parameters/persist_gpio_outputs");
  if (!said || (*said != "Y" && *said != "N")) return std::nullopt;
  return *said == "Y";
}

// systemd-timesyncd leaves its mark; where it does not run, nothing is known here.
std::optional<bool> time_synchronised(const fs::path& root) {
  std::error_code none;
  if (fs::exists(root / "run/systemd/timesync/synchronized", none)) return true;
  if (fs::exists(root / "run/systemd/timesync", none)) return false;
  return std::nullopt;
}

}  // namespace

std::vector<std::string> iio_names(const std::string& chip) {
  const auto names = iio::names_of(chip);
  return {names.begin(), names.end()};
}

Survey survey(const std::string& root, const ReadGpioChip& read_chip) {
  const fs::path top(root.empty() ? "/" : root);
  const fs::path sys = top / "sys";
  Survey found;
  found.board = line_of(top / "proc/device-tree/model").value_or("");
  found.kernel = line_of(top / "proc/sys/kernel/osrelease").value_or("");
  for (const fs::path& node : entries(top / "dev", "gpiochip")) {
    found.gpio_chips.push_back(read_chip(node.string()));
    found.gpio_chips.back().path = "/dev/" + node.filename().string();
  }
  found.i2c_buses = i2c_buses(top);
  found.i2c_devices = i2c_devices(sys);
  found.hwmon = named(sys / "class/hwmon", "hwmon", sys);
  found.iio = named(sys / "bus/iio/devices", "iio:device", sys);
  for (NamedDevice& chip : found.iio) chip.device = parent_of(sys / chip.path);
  found.one_wire = one_wire(sys);
  found.pwm_chips = pwm_chips(sys);
  found.watchdogs = watchdogs(sys);
  found.gpio_persists = gpio_persists(sys);
  found.undervoltage = undervoltage(found.hwmon, sys);
  found.time_synchronised = time_synchronised(top);
  return found;
}

}  // namespace neap::drivers
