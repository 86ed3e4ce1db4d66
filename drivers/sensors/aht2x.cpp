#include "drivers/sensors/aht2x.h"

#include <array>

#include "drivers/bus/i2c.h"

namespace neap::drivers {
namespace {

constexpr std::array<std::uint8_t, 3> kMeasure{0xAC, 0x33, 0x00};
constexpr std::array<std::uint8_t, 1> kReset{0xBA};
constexpr Millis kReadyAfter{85};
constexpr Millis kDeadline{2500};  // one transfer of a hung bus, and the reset of its adapter
constexpr unsigned kBusy = 0x80;
constexpr unsigned kCalibrated = 0x08;
constexpr double kFullScale = 1 << 20;

constexpr std::array kChannels{
    ChannelSpec{"temperature", "C", -40, 85},
    ChannelSpec{"humidity", "%", 0, 100},
};
constexpr std::array kParams{
    i2c::bus_param(),
    i2c::address_param("0x38", "its address: 0x38 always, but behind a translator"),
};

class Aht2x final : public Sensor {
 public:
  Aht2x(const Params& params, const Context& context) : device_(params, context) {}

  Started begin() override {
    fault_ = device_.write(kMeasure);
    return {fault_, kReadyAfter};
  }

  void finish(Deliveries& out) override {
    std::array<std::uint8_t, 7> said{};
    if (fault_ == Fault::none) fault_ = device_.read(said);
    if (fault_ == Fault::none) fault_ = judge(said);
    if (fault_ != Fault::none) {
      out.push({0, std::nullopt, fault_});
      out.push({1, std::nullopt, fault_});
      return;
    }
    const int humidity = said[1] << 12 | said[2] << 4 | said[3] >> 4;
    const int temperature = (said[3] & 0x0F) << 16 | said[4] << 8 | said[5];
    out.push({0, -50 + 200 * temperature / kFullScale, Fault::none});
    out.push({1, 100 * humidity / kFullScale, Fault::none});
  }

  bool revive() override {
    const bool reset = device_.write(kReset) == Fault::none;
    return reset || device_.revive_bus();
  }
  std::string trouble() const override { return device_.trouble(); }

 private:
  static Fault judge(std::span<const std::uint8_t, 7> said) {
    if (i2c::crc8(said.first<6>()) != said[6]) return Fault::corrupt;
    const bool ready = (said[0] & kBusy) == 0 && (said[0] & kCalibrated) != 0;
    return ready ? Fault::none : Fault::not_ready;
  }

  i2c::Chip device_;
  Fault fault_ = Fault::no_answer;  // of the read under way
};

std::unique_ptr<Sensor> make(const Params& params, Context& context) {
  return std::make_unique<Aht2x>(completed(params, kParams), context);
}

}  // namespace

constinit const SensorInfo kAht2x{
    .name = "aht2x",
    .about = "air temperature and humidity from an AHT20 or AHT21, its CRC checked",
    .channels = kChannels,
    .params = kParams,
    .fastest_period = seconds{2},
    .deadline = kDeadline,
    .simulated = false,
    .strand = i2c::strand,
    .make = make,
    .boot_line = i2c::kBootLine,
};

}  // namespace neap::drivers
