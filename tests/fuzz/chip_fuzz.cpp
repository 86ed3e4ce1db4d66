// Any bytes as the answer of a chip on I2C: a finite number that the part can measure, or a fault.
// The first byte chooses the chip; the rest is what the bus reads, zeros behind its end.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <memory>

#include "drivers/bus/kernel.h"
#include "drivers/sensors/aht2x.h"
#include "drivers/sensors/sht3x.h"
#include "drivers/sensors/sht4x.h"
#include "drivers/sensors/text_circuit.h"

namespace {

using namespace neap::drivers;

void must(bool holds) {
  if (!holds) std::abort();
}

// Acknowledges everything and answers with the input.
class AnyChip final : public Kernel {
 public:
  std::span<const std::uint8_t> answer;

  sysfs::Attribute read(const std::string&) override { return {{}, neap::Fault::absent}; }
  neap::Fault write(const std::string&, std::string_view) override { return neap::Fault::absent; }
  std::vector<std::string> list(const std::string&) override { return {}; }
  std::optional<std::string> resolve(const std::string&) override { return std::nullopt; }
  neap::Fault transfer(const std::string&, std::uint8_t, std::span<const std::uint8_t>,
                       std::span<std::uint8_t> in) override {
    std::fill(in.begin(), in.end(), std::uint8_t{0});
    std::copy_n(answer.begin(), std::min(in.size(), answer.size()), in.begin());
    return neap::Fault::none;
  }
};

struct Part {
  const SensorInfo* info;
  bool bounded;  // its format cannot say more than the part can measure
};
constexpr std::array kParts{Part{&kSht3x, true}, Part{&kSht4x, true}, Part{&kAht2x, true},
                            Part{&kTextPh, false}, Part{&kTextEc, false}};
constexpr double kWidest = 200;  // the formulas' ends: -50 to 150 C

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const Part& part = kParts[data[0] % kParts.size()];
  const auto kernel = std::make_shared<AnyChip>();
  kernel->answer = {data + 1, size - 1};
  Context context;
  context.kernel = kernel;
  const auto sensor = part.info->make({}, context);
  must(sensor->begin().fault == neap::Fault::none);
  Deliveries out;
  sensor->finish(out);
  must(out.size() == part.info->channels.size());
  for (const Delivery& delivery : out) {
    must(delivery.value.has_value() == (delivery.fault == neap::Fault::none));
    must(!delivery.value || std::isfinite(*delivery.value));
    must(!delivery.value || !part.bounded || std::abs(*delivery.value) < kWidest);
  }
  return 0;
}
