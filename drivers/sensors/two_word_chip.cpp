#include "drivers/sensors/two_word_chip.h"

#include <array>

#include "drivers/bus/i2c.h"

namespace neap::drivers {
namespace {

constexpr std::size_t kWordBytes = 3;  // two of the word, one of its CRC

class TwoWordSensor final : public Sensor {
 public:
  TwoWordSensor(const TwoWordChip& chip, const Params& params, const Context& context)
      : chip_(chip), device_(params, context) {}

  Started begin() override {
    fault_ = device_.write(chip_.measure);
    return {fault_, chip_.ready_after};
  }

  void finish(Deliveries& out) override {
    std::array<std::uint8_t, 2 * kWordBytes> bytes{};
    if (fault_ == Fault::none) fault_ = device_.read(bytes);
    const std::span<const std::uint8_t, 2 * kWordBytes> said{bytes};
    out.push(convert(0, said.first<kWordBytes>(), chip_.celsius));
    out.push(convert(1, said.last<kWordBytes>(), chip_.percent));
  }

  bool revive() override {
    const bool reset = device_.write(chip_.reset) == Fault::none;
    return reset || device_.revive_bus();
  }
  std::string trouble() const override { return device_.trouble(); }

 private:
  Delivery convert(int channel, std::span<const std::uint8_t, kWordBytes> triple,
                   double (*formula)(std::uint16_t)) const {
    if (fault_ != Fault::none) return {channel, std::nullopt, fault_};
    const auto word = i2c::checked_word(triple);
    if (!word) return {channel, std::nullopt, Fault::corrupt};
    return {channel, formula(*word), Fault::none};
  }

  const TwoWordChip& chip_;
  i2c::Chip device_;
  Fault fault_ = Fault::no_answer;  // of the read under way
};

}  // namespace

std::unique_ptr<Sensor> make_two_word_sensor(const TwoWordChip& chip, const Params& params,
                                             Context& context) {
  return std::make_unique<TwoWordSensor>(chip, params, context);
}

}  // namespace neap::drivers
