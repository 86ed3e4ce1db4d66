#include "drivers/sensors/analog.h"

#include <algorithm>
#include <array>

#include "drivers/bus/iio.h"
#include "drivers/sensors/curve.h"

namespace neap::drivers {
namespace {

constexpr double kBeyondTable = 0.1;  // of its span; common practice, no source

// What tells the three apart.
struct Quantity {
  ChannelSpec channel;
  bool ends_at_the_table;
};
constexpr Quantity kPh{{"ph", "pH", 0, 14}, false};
constexpr Quantity kEc{{"ec", "mS/cm", 0, 20}, false};
constexpr Quantity kLevel{{"level", "L", 0, 1000}, true};

constexpr std::array kPhChannels{kPh.channel};
constexpr std::array kEcChannels{kEc.channel};
constexpr std::array kLevelChannels{kLevel.channel};

constexpr std::array kParams{
    iio::chip_param(),
    iio::device_param(),
    ParamSpec{"input", ParamKind::text, true, "", 0, 0, "",
              "the kernel's name of the input: voltage0, voltage0-voltage1, distance, pressure"},
    ParamSpec{"curve", ParamKind::words, true, "", 0, 0, "",
              "what readings mean: [1500 mV = 7 pH, 1677 mV = 4 pH]; two pairs or more"},
};

std::variant<Curve, std::string> curve_of(const Params& params, const Quantity& quantity) {
  const auto unit = iio::unit_of(params.text("input"));
  if (!unit)
    return "input is " + params.text("input") +
           "; must be voltage, current, resistance, distance or pressure with the number of the "
           "file in_..._raw, such as voltage0";
  return Curve::parse(params.words("curve"), *unit, quantity.channel.unit);
}

class Analog final : public Sensor {
 public:
  Analog(const Quantity& quantity, const Params& params, const Context& context)
      : quantity_(quantity), device_(params, context), input_(params.text("input")) {
    auto curve = curve_of(params, quantity);
    if (auto* good = std::get_if<Curve>(&curve)) curve_ = std::move(*good);
  }

  Started begin() override { return {device_.find(), Millis{0}}; }

  void finish(Deliveries& out) override {
    const iio::Value said = device_.read(input_);
    if (!said.value) return deliver(out, std::nullopt, said.fault);
    if (!curve_) return deliver(out, std::nullopt, Fault::not_fitted);  // the loader refuses these
    if (!quantity_.ends_at_the_table) return deliver(out, curve_->at(*said.value), Fault::none);
    const double first = curve_->first().reading;
    const double last = curve_->last().reading;
    const double beyond = kBeyondTable * (last - first);
    if (*said.value < first - beyond || *said.value > last + beyond)
      return deliver(out, std::nullopt, Fault::out_of_range);
    deliver(out, std::max(0.0, curve_->at(*said.value)), Fault::none);
  }

 private:
  static void deliver(Deliveries& out, std::optional<double> value, Fault fault) {
    out.push({0, value, fault});
  }

  const Quantity& quantity_;
  iio::Device device_;
  std::string input_;
  std::optional<Curve> curve_;
};

template <const Quantity& kQuantity>
std::unique_ptr<Sensor> make(const Params& params, Context& context) {
  return std::make_unique<Analog>(kQuantity, params, context);
}

template <const Quantity& kQuantity>
std::string check(const Params& params) {
  const auto curve = curve_of(params, kQuantity);
  if (const auto* wrong = std::get_if<std::string>(&curve)) return *wrong;
  const Curve& good = std::get<Curve>(curve);
  for (const Curve::Pair& end : {good.first(), good.last()})
    if (end.value < kQuantity.channel.lowest || end.value > kQuantity.channel.highest)
      return "curve reaches beyond what " + std::string{kQuantity.channel.name} +
             " can be; look for a value with a wrong decimal point";
  return {};
}

constexpr std::string_view kBootLine = "dtoverlay=ads1115,addr=0x48,cha_enable,cha_cfg=4";

}  // namespace

constinit const SensorInfo kAnalogPh{
    .name = "analog_ph",
    .about = "pH by a converter's input and a curve of two buffers or more",
    .channels = kPhChannels,
    .params = kParams,
    .fastest_period = seconds{1},
    .deadline = iio::kDeadline,
    .simulated = false,
    .strand = iio::strand,
    .make = make<kPh>,
    .check = check<kPh>,
    .boot_line = kBootLine,
};

constinit const SensorInfo kAnalogEc{
    .name = "analog_ec",
    .about = "EC by a converter's input and a curve of two solutions or more",
    .channels = kEcChannels,
    .params = kParams,
    .fastest_period = seconds{1},
    .deadline = iio::kDeadline,
    .simulated = false,
    .strand = iio::strand,
    .make = make<kEc>,
    .check = check<kEc>,
    .boot_line = kBootLine,
};

constinit const SensorInfo kAnalogLevel{
    .name = "analog_level",
    .about = "litres by a pressure, distance or voltage input and the tank's table",
    .channels = kLevelChannels,
    .params = kParams,
    .fastest_period = seconds{1},
    .deadline = iio::kDeadline,
    .simulated = false,
    .strand = iio::strand,
    .make = make<kLevel>,
    .check = check<kLevel>,
    .boot_line = kBootLine,
};

}  // namespace neap::drivers
