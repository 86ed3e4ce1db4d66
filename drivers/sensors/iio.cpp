#include "drivers/sensors/iio.h"

#include <array>

#include "drivers/bus/iio.h"

namespace neap::drivers {
namespace {

constexpr std::array kChannels{
    ChannelSpec{"temperature", "C", -40, 125},
    ChannelSpec{"humidity", "%", 0, 100},
    ChannelSpec{"object_temperature", "C", -70, 380},
    ChannelSpec{"light", "lx", 0, 200000},
};

struct Source {
  const char* channel;  // of the kernel
  double per_unit;      // milli-degrees and milli-percent; lux as they are
};
constexpr std::array<Source, kChannels.size()> kSources{
    Source{"temp", 1000},
    Source{"humidityrelative", 1000},
    Source{"temp_object", 1000},
    Source{"illuminance", 1},
};

constexpr std::array kParams{iio::chip_param(), iio::device_param()};

class Iio final : public Sensor {
 public:
  Iio(const Params& params, const Context& context) : device_(params, context) {}

  Started begin() override { return {device_.find(), Millis{0}}; }

  void finish(Deliveries& out) override {
    for (std::size_t i = 0; i < kSources.size(); ++i) {
      const iio::Value said = device_.read(kSources[i].channel);
      const auto value =
          said.value ? std::optional(*said.value / kSources[i].per_unit) : std::nullopt;
      out.push({static_cast<int>(i), value, said.fault});
    }
  }

 private:
  iio::Device device_;
};

std::unique_ptr<Sensor> make(const Params& params, Context& context) {
  return std::make_unique<Iio>(params, context);
}

}  // namespace

constinit const SensorInfo kIio{
    .name = "iio",
    .about = "air, leaf or light from a chip that the kernel drives by industrial I/O",
    .channels = kChannels,
    .params = kParams,
    .fastest_period = seconds{1},
    .deadline = iio::kDeadline,
    .simulated = false,
    .strand = iio::strand,
    .make = make,
    .boot_line = "dtparam=i2c_arm=on and dtoverlay=i2c-sensor,CHIP",
};

}  // namespace neap::drivers
