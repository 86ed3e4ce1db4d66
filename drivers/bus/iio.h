// Channels of the kernel's industrial I/O (/sys/bus/iio): converters, air, light, infrared and
// distance sensors. A channel is what stands between `in_` and `_raw`: voltage0, temp, distance,
// voltage0-voltage1, temp_object.
//
// value = (raw + offset) * scale, or `_input`, which is that product already
// (kernel documentation, Documentation/ABI/testing/sysfs-bus-iio). Offset and scale stand with the
// channel or are shared by its type (in_voltage_scale); no offset is 0; no scale is absent, because
// a raw number alone has no unit. A raw number at either end of sixteen bits is out_of_range: the
// converter (ADS1115) stands at its stop, and the voltage may be anything beyond.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/bus/kernel.h"

namespace neap::drivers::iio {

// What a channel of that name is measured in, by the kernel's ABI: "mV", "mA", "ohm", "m", "kPa".
// Only types that settings may name as an analogue input; none for others.
std::optional<std::string_view> unit_of(std::string_view channel);

// Every name that kernels have for a chip, its own among them: some change with the version.
std::vector<std::string_view> names_of(std::string_view chip);

struct Value {
  std::optional<double> value;  // in the ABI's unit: mV, milli-C, milli-percent, kPa, m, lx
  Fault fault = Fault::none;
};

class Device {
 public:
  // Takes the params `chip` and `device`, which find_device explains.
  Device(const Params& params, const Context& context);

  Fault find();  // anew at each begin(), for numbers move
  Value read(const std::string& channel) const;

 private:
  Value attribute(const std::string& channel, std::string_view what) const;
  Value own_or_shared(const std::string& channel, std::string_view what) const;

  std::shared_ptr<Kernel> kernel_;
  std::string chip_;
  std::string device_;
  Found found_{{}, Fault::no_answer};
};

constexpr ParamSpec chip_param() {
  return {"chip", ParamKind::text,
          true,   "",
          0,      0,
          "",     "the word in its file /sys/bus/iio/devices/*/name, such as ads1115 or bme280"};
}
constexpr ParamSpec device_param() {
  return {"device",
          ParamKind::text,
          false,
          "",
          0,
          0,
          "",
          "tells twins apart: a component of the device path, such as 1-0048; not needed for one"};
}
std::string strand(const Params& params);  // one a chip name

// A hung I2C bus costs the kernel 2 s a transfer (Linux 6.1 measured), and a value takes two.
constexpr Millis kDeadline{8500};

}  // namespace neap::drivers::iio
