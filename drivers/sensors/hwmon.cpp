#include "drivers/sensors/hwmon.h"

#include <array>

#include "drivers/bus/kernel.h"

namespace neap::drivers {
namespace {

// hwmon speaks in thousandths: milli-degrees Celsius, milli-percent RH
// (kernel documentation, Documentation/hwmon/sysfs-interface.rst).
constexpr double kThousandths = 1000;

constexpr std::array kChannels{
    ChannelSpec{"temperature", "C", -40, 125},
    ChannelSpec{"humidity", "%", 0, 100},
};
constexpr std::array<const char*, kChannels.size()> kAttributes{"temp1_input", "humidity1_input"};

constexpr std::array kParams{
    ParamSpec{"chip", ParamKind::text, true, "", 0, 0, "",
              "the word in the hwmon file `name`, such as sht4x"},
    ParamSpec{
        "device", ParamKind::text, false, "", 0, 0, "",
        "tells twins apart: a component of the device path, such as 1-0044; not needed for one"},
};

// A hung I2C bus costs the kernel 4.0 s an attribute (sht3x, Linux 6.1), and there are two.
constexpr Millis kDeadline{8500};

class Hwmon final : public Sensor {
 public:
  Hwmon(const Params& params, const Context& context)
      : kernel_(kernel_of(context)), chip_(params.text("chip")), device_(params.text("device")) {}

  Started begin() override {
    const std::array<std::string_view, 1> names{chip_};
    found_ = find_device(*kernel_, "class/hwmon", names, device_);
    return {found_.fault, Millis{0}};
  }

  void finish(Deliveries& out) override {
    for (std::size_t channel = 0; channel < kChannels.size(); ++channel)
      out.push(read_channel(static_cast<int>(channel)));
  }

 private:
  Delivery read_channel(int channel) const {
    if (found_.fault != Fault::none) return {channel, std::nullopt, found_.fault};
    const auto attribute =
        kernel_->read(found_.path + "/" + kAttributes[static_cast<std::size_t>(channel)]);
    if (!attribute.text) return {channel, std::nullopt, attribute.fault};
    const auto thousandths = sysfs::parse_decimal(*attribute.text);
    if (!thousandths) return {channel, std::nullopt, Fault::corrupt};
    return {channel, *thousandths / kThousandths, Fault::none};
  }

  std::shared_ptr<Kernel> kernel_;
  std::string chip_;
  std::string device_;
  Found found_{{}, Fault::no_answer};  // by the last begin()
};

std::string strand(const Params& params) { return "hwmon:" + params.text("chip"); }

std::unique_ptr<Sensor> make(const Params& params, Context& context) {
  return std::make_unique<Hwmon>(params, context);
}

}  // namespace

constinit const SensorInfo kHwmon{
    .name = "hwmon",
    .about = "air temperature and humidity from a chip that the kernel drives",
    .channels = kChannels,
    .params = kParams,
    .fastest_period = seconds{2},  // sht4x measures no oftener
    .deadline = kDeadline,
    .simulated = false,
    .strand = strand,
    .make = make,
    .boot_line = "dtparam=i2c_arm=on and dtoverlay=i2c-sensor,CHIP",
};

}  // namespace neap::drivers
