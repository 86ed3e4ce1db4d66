#include "drivers/sensors/hwmon.h"

#include <array>
#include <filesystem>
#include <optional>
#include <system_error>

#include "drivers/bus/sysfs.h"

namespace neap::drivers {
namespace {

namespace fs = std::filesystem;

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

// Is `part` one or several whole components of `path`? 1-0044 is not part of /devices/11-0044.
bool has_component(const fs::path& path, const std::string& part) {
  return (path.string() + "/").find("/" + part + "/") != std::string::npos;
}

class Hwmon final : public Sensor {
 public:
  Hwmon(const Params& params, const Context& context)
      : class_folder_(fs::path{context.sysfs_root} / "class" / "hwmon"),
        chip_(params.text("chip")),
        device_(params.text("device")) {}

  Started begin() override {
    found_ = find_device();
    return {found_ ? Fault::none : Fault::no_answer, Millis{0}};
  }

  void finish(Deliveries& out) override {
    for (std::size_t channel = 0; channel < kChannels.size(); ++channel)
      out.push(read_channel(static_cast<int>(channel)));
  }

 private:
  std::optional<fs::path> find_device() const {
    std::optional<fs::path> only;
    std::error_code error;
    for (fs::directory_iterator entry{class_folder_, error}, end; !error && entry != end;
         entry.increment(error)) {
      if (!fits(entry->path())) continue;
      if (only) return std::nullopt;  // twins: see the header
      only = entry->path();
    }
    return error ? std::nullopt : only;
  }

  bool fits(const fs::path& candidate) const {
    if (sysfs::read_attribute(candidate / "name").text != chip_) return false;
    if (device_.empty()) return true;
    std::error_code error;
    const fs::path resolved = fs::canonical(candidate, error);
    return !error && has_component(resolved, device_);
  }

  Delivery read_channel(int channel) const {
    if (!found_) return {channel, std::nullopt, Fault::no_answer};
    const auto attribute =
        sysfs::read_attribute(*found_ / kAttributes[static_cast<std::size_t>(channel)]);
    if (!attribute.text) return {channel, std::nullopt, attribute.fault};
    const auto thousandths = sysfs::parse_decimal(*attribute.text);
    if (!thousandths) return {channel, std::nullopt, Fault::corrupt};
    return {channel, *thousandths / kThousandths, Fault::none};
  }

  fs::path class_folder_;
  std::string chip_;
  std::string device_;
  std::optional<fs::path> found_;  // by the last begin()
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
};

}  // namespace neap::drivers
