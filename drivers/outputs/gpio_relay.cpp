#include "drivers/outputs/gpio_relay.h"

#include <array>

#include "drivers/bus/gpio.h"

namespace neap::drivers {
namespace {

constexpr std::array kParams{
    gpio::kChipParam,
    gpio::kDeviceParam,
    gpio::kLineParam,
    ParamSpec{"active", ParamKind::choice, true, "", 0, 0, "low high",
              "the line's level while the output is running; many relay boards switch at low, and "
              "a normally-closed contact turns it round"},
};

class GpioRelay final : public OutputDriver {
 public:
  explicit GpioRelay(std::unique_ptr<gpio::OutputLine> line) : line_(std::move(line)) {}

  Fault write(Permille level) override {
    if (level != kStopped && level != kRunning) return Fault::out_of_range;
    return line_->write(level == kRunning);
  }
  std::optional<Permille> read_back() override {
    const std::optional<bool> active = line_->read();
    if (!active) return std::nullopt;
    return *active ? kRunning : kStopped;
  }
  std::string trouble() const override { return line_->trouble(); }

 private:
  std::unique_ptr<gpio::OutputLine> line_;
};

std::string strand(const Params& params) { return gpio::chip_key(gpio::place_of(params)); }
std::string resource(const Params& params, Output) {
  return gpio::line_key(gpio::place_of(params));
}

std::unique_ptr<OutputDriver> make(const Params& params, Output output, Context& context) {
  const gpio::Place place = gpio::place_of(params);
  return std::make_unique<GpioRelay>(
      gpio::output_chip(context, place)
          ->add(place, params.text("active") == "low", info(output).safe == kRunning));
}

}  // namespace

constinit const OutputDriverInfo kGpioRelay{
    .name = "gpio_relay",
    .about = "a relay on a GPIO line",
    .params = kParams,
    .variable = false,
    .safe_on_silence = false,  // the chip decides; see the header
    .simulated = false,
    .strand = strand,
    .resource = resource,
    .make = make,
};

}  // namespace neap::drivers
