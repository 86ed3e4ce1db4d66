#include "drivers/outputs/dac.h"

#include <array>

#include "drivers/bus/kernel.h"
#include "drivers/bus/steps.h"

namespace neap::drivers {
namespace {

constexpr double kHighestNumber = 1 << 24;  // wider than any DAC

constexpr std::array kParams{
    ParamSpec{"chip", ParamKind::text, true, "", 0, 0, "",
              "the word in the IIO file `name`, such as mcp4725"},
    ParamSpec{"device", ParamKind::text, false, "", 0, 0, "",
              "tells twins apart: a component of the device path, such as 1-0060; not needed for "
              "one"},
    ParamSpec{"channel", ParamKind::integer, false, "0", 0, 15, "",
              "the channel, as in out_voltage0_raw"},
    ParamSpec{"running", ParamKind::integer, false, "4095", 0, kHighestNumber, "",
              "number for full level; 4095 is the most of a 12-bit DAC"},
    ParamSpec{"stopped", ParamKind::integer, false, "0", 0, kHighestNumber, "",
              "number for level none; larger than `running` where the amplifier inverts"},
    kLowestParam,
};

class Dac final : public OutputDriver {
 public:
  Dac(const Params& params, const Context& context)
      : kernel_(kernel_of(context)),
        chip_(params.text("chip")),
        device_(params.text("device")),
        attribute_("/out_voltage" + std::to_string(params.integer("channel")) + "_raw"),
        steps_(steps_of(params, params.integer("stopped"), params.integer("running"))) {}

  Fault write(Permille level) override {
    if (level < kStopped || level > kRunning) return Fault::out_of_range;
    if (const Fault fault = reach(); fault != Fault::none) return fault;
    const std::string number = std::to_string(steps_.number(level));
    const Fault fault = kernel_->write(found_.path + attribute_, number);
    if (fault != Fault::none)
      trouble_ = "/sys/" + found_.path + attribute_ + " does not take " + number +
                 "; correct `channel` or `running`, and see that neapd's user may write it";
    return fault;
  }

  std::optional<Permille> read_back() override {
    if (reach() != Fault::none) return std::nullopt;
    const auto attribute = kernel_->read(found_.path + attribute_);
    if (!attribute.text) return std::nullopt;
    const auto number = sysfs::parse_decimal(*attribute.text);
    return number ? steps_.level(std::llround(*number)) : std::nullopt;
  }

  std::string trouble() const override { return trouble_; }

 private:
  Fault reach() {
    trouble_.clear();
    const std::array<std::string_view, 1> names{chip_};
    found_ = find_device(*kernel_, "bus/iio/devices", names, device_);
    if (found_.fault != Fault::none)
      trouble_ = "not one IIO device is named " + chip_ +
                 (device_.empty() ? "" : " with " + device_ + " in its path") +
                 "; load its overlay, correct `chip`, or tell twins apart by `device`";
    return found_.fault;
  }

  std::shared_ptr<Kernel> kernel_;
  std::string chip_;
  std::string device_;
  std::string attribute_;
  Steps steps_;
  Found found_;  // by the last reach()
  std::string trouble_;
};

std::string strand(const Params& params) {
  return "iio:" + params.text("chip") + ":" + params.text("device");
}
std::string resource(const Params& params, Output) {
  return strand(params) + ":" + std::to_string(params.integer("channel"));
}

std::string check(const Params& params) { return ends_objection(completed(params, kParams)); }

std::unique_ptr<OutputDriver> make(const Params& params, Output, Context& context) {
  return std::make_unique<Dac>(completed(params, kParams), context);
}

}  // namespace

constinit const OutputDriverInfo kDac{
    .name = "dac",
    .about = "a 0-10 V input of a fan or a lamp, by a DAC that the kernel knows",
    .params = kParams,
    .variable = true,
    .safe_on_silence = false,
    .simulated = false,
    .strand = strand,
    .resource = resource,
    .make = make,
    .check = check,
};

}  // namespace neap::drivers
