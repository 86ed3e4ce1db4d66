#include "drivers/sensors/one_wire.h"

#include <algorithm>
#include <array>
#include <vector>

#include "drivers/bus/kernel.h"

namespace neap::drivers {
namespace {

constexpr double kThousandths = 1000;  // the kernel prints milli-degrees
constexpr double kPowerOn = 85'000;    // data sheet DS18B20, table 1 and figure 4
constexpr double kCutShort = 127'937;  // 0x07FF, a sixteenth of a degree each
constexpr double kLowest = -55'000;    // what the chip can measure, by its data sheet
constexpr double kHighest = 125'000;
constexpr unsigned kRefusePowerOnValue = 1;  // bit of `features`
constexpr const char* kFolder = "bus/w1/devices";

// Four probes that convert one after the other, each failing as slowly as was seen: 2 s.
constexpr Millis kDeadline{8500};

constexpr std::array kChannels{
    ChannelSpec{"temperature", "C", -55, 125},
    ChannelSpec{"temperature_2", "C", -55, 125},
    ChannelSpec{"temperature_3", "C", -55, 125},
    ChannelSpec{"temperature_4", "C", -55, 125},
};
constexpr std::array<std::string_view, kChannels.size()> kIds{"id", "id_2", "id_3", "id_4"};

constexpr std::array kParams{
    ParamSpec{"id", ParamKind::text, true, "", 0, 0, "",
              "its folder in /sys/bus/w1/devices, such as 28-0316a2795cff"},
    ParamSpec{"id_2", ParamKind::text, false, "", 0, 0, "",
              "a second probe of the same wire: they convert together"},
    ParamSpec{"id_3", ParamKind::text, false, "", 0, 0, "", "a third"},
    ParamSpec{"id_4", ParamKind::text, false, "", 0, 0, "", "a fourth"},
};

std::string folder_of(const std::string& id) { return std::string{kFolder} + "/" + id; }

// "devices/w1_bus_master1/28-0316a2795cff" hangs on "devices/w1_bus_master1".
std::optional<std::string> master_of(Kernel& kernel, const std::string& id) {
  const auto real = kernel.resolve(folder_of(id));
  if (!real || real->find('/') == real->npos) return std::nullopt;
  return real->substr(0, real->rfind('/'));
}

Delivery judge(int channel, double milli_celsius) {
  if (milli_celsius == kPowerOn) return {channel, std::nullopt, Fault::power_on_value};
  if (milli_celsius == kCutShort) return {channel, std::nullopt, Fault::corrupt};
  if (milli_celsius < kLowest || milli_celsius > kHighest)
    return {channel, std::nullopt, Fault::out_of_range};
  return {channel, milli_celsius / kThousandths, Fault::none};
}

class OneWire final : public Sensor {
 public:
  OneWire(const Params& params, const Context& context) : kernel_(kernel_of(context)) {
    for (std::size_t i = 0; i < kIds.size(); ++i) ids_[i] = params.text(kIds[i]);
  }

  Started begin() override {
    std::vector<std::string> masters;
    for (const std::string& id : ids_) {
      const auto master = id.empty() ? std::nullopt : master_of(*kernel_, id);
      if (!master) continue;
      refuse_power_on_value(id);
      if (std::find(masters.begin(), masters.end(), *master) == masters.end())
        masters.push_back(*master);
    }
    // Eight bytes: the kernel passes over the word without its newline. That the write went well
    // proves no conversion, and that it failed is no fault: the probes then convert when read.
    for (const std::string& master : masters)
      kernel_->write(master + "/therm_bulk_read", "trigger\n");
    return {masters.empty() ? Fault::absent : Fault::none, Millis{0}};
  }

  void finish(Deliveries& out) override {
    for (std::size_t i = 0; i < ids_.size(); ++i) out.push(fetch(static_cast<int>(i), ids_[i]));
  }

 private:
  void refuse_power_on_value(const std::string& id) {
    const std::string path = folder_of(id) + "/features";
    const auto now = kernel_->read(path);
    const auto number = now.text ? sysfs::parse_decimal(*now.text) : std::nullopt;
    if (!number || *number < 0 || *number > 255) return;
    const auto bits = static_cast<unsigned>(*number);
    if ((bits & kRefusePowerOnValue) == 0)
      kernel_->write(path, std::to_string(bits | kRefusePowerOnValue) + "\n");
  }

  Delivery fetch(int channel, const std::string& id) const {
    if (id.empty()) return {channel, std::nullopt, Fault::not_fitted};
    const auto attribute = kernel_->read(folder_of(id) + "/temperature");
    if (!attribute.text) return {channel, std::nullopt, attribute.fault};
    const auto milli_celsius = sysfs::parse_decimal(*attribute.text);
    if (!milli_celsius) return {channel, std::nullopt, Fault::corrupt};
    return judge(channel, *milli_celsius);
  }

  std::shared_ptr<Kernel> kernel_;
  std::array<std::string, kIds.size()> ids_;
};

// The master of the first probe, as it hangs now; one strand for all masters until then.
std::string strand(const Params& params) {
  return "w1:" + master_of(*kernel_of(Context{}), params.text("id")).value_or("");
}

bool is_id(std::string_view text) {
  constexpr std::string_view kHex = "0123456789abcdef";
  if (text.size() != 15 || text[2] != '-') return false;
  for (std::size_t i = 0; i < text.size(); ++i)
    if (i != 2 && kHex.find(text[i]) == kHex.npos) return false;
  return true;
}

std::string check(const Params& params) {
  std::vector<std::string> seen;
  for (const std::string_view key : kIds) {
    const std::string id = params.text(key);
    if (id.empty()) continue;
    if (!is_id(id))
      return std::string{key} + " is " + id +
             "; must be the family, a dash and twelve digits, as 28-0316a2795cff: "
             "\"ls /sys/bus/w1/devices\" lists those that are there";
    if (std::find(seen.begin(), seen.end(), id) != seen.end())
      return std::string{key} + " is " + id + ", which stands here already; each probe once";
    seen.push_back(id);
  }
  return {};
}

std::unique_ptr<Sensor> make(const Params& params, Context& context) {
  return std::make_unique<OneWire>(params, context);
}

}  // namespace

constinit const SensorInfo kOneWire{
    .name = "one_wire",
    .about = "temperature from DS18B20 probes on 1-Wire, by the kernel's driver",
    .channels = kChannels,
    .params = kParams,
    .fastest_period = seconds{5},
    .deadline = kDeadline,
    .simulated = false,
    .strand = strand,
    .make = make,
    .check = check,
    .boot_line = "dtoverlay=w1-gpio,gpiopin=4",
};

}  // namespace neap::drivers
