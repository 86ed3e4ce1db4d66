#include "drivers/sensors/text_circuit.h"

#include <algorithm>
#include <array>

#include "drivers/bus/i2c.h"

namespace neap::drivers {
namespace {

constexpr Millis kReadyAfter{900};
constexpr Millis kDeadline{2500};  // one transfer of a hung bus, and the reset of its adapter
constexpr std::array<std::uint8_t, 1> kRead{'R'};
constexpr std::size_t kAnswerBytes = 32;  // more than any number has

struct StateByte {
  std::uint8_t byte;
  Fault fault;
};
constexpr std::array kStates{StateByte{1, Fault::none}, StateByte{2, Fault::corrupt},
                             StateByte{254, Fault::not_ready}, StateByte{255, Fault::not_ready}};

struct Quantity {
  ChannelSpec channel;
  double per_unit;  // what the board says for one of the channel's unit
};
constexpr Quantity kPh{{"ph", "pH", 0, 14}, 1};
constexpr Quantity kEc{{"ec", "mS/cm", 0, 20}, 1000};

constexpr std::array kPhChannels{kPh.channel};
constexpr std::array kEcChannels{kEc.channel};

constexpr std::array kPhParams{
    i2c::bus_param(), i2c::address_param("0x63", "the board's address; boards leave with 0x63")};
constexpr std::array kEcParams{
    i2c::bus_param(), i2c::address_param("0x64", "the board's address; boards leave with 0x64")};

Fault fault_of_state(std::uint8_t byte) {
  for (const StateByte& row : kStates)
    if (row.byte == byte) return row.fault;
  return Fault::corrupt;
}

// What stands before the NUL, when nothing but an idle bus (all ones) or zeros comes after it.
std::optional<double> number_in(std::span<const std::uint8_t> text) {
  const auto end = std::find(text.begin(), text.end(), 0);
  if (end == text.end()) return std::nullopt;
  const auto rest = text.subspan(static_cast<std::size_t>(end - text.begin()) + 1);
  const auto all_are = [&rest](std::uint8_t byte) {
    return std::all_of(rest.begin(), rest.end(), [byte](auto other) { return other == byte; });
  };
  if (!all_are(0x00) && !all_are(0xFF)) return std::nullopt;
  return sysfs::parse_decimal(std::string(text.begin(), end));
}

class TextCircuit final : public Sensor {
 public:
  TextCircuit(const Quantity& quantity, const Params& params, const Context& context)
      : quantity_(quantity), device_(params, context) {}

  Started begin() override {
    fault_ = device_.write(kRead);
    return {fault_, kReadyAfter};
  }

  void finish(Deliveries& out) override {
    std::array<std::uint8_t, kAnswerBytes> answer{};
    if (fault_ == Fault::none) fault_ = device_.read(answer);
    if (fault_ == Fault::none) fault_ = fault_of_state(answer[0]);
    const auto number =
        fault_ == Fault::none ? number_in(std::span{answer}.subspan(1)) : std::nullopt;
    if (number) {
      out.push({0, *number / quantity_.per_unit, Fault::none});
    } else {
      out.push({0, std::nullopt, fault_ == Fault::none ? Fault::corrupt : fault_});
    }
  }

  bool revive() override { return device_.revive_bus(); }
  std::string trouble() const override { return device_.trouble(); }

 private:
  const Quantity& quantity_;
  i2c::Chip device_;
  Fault fault_ = Fault::no_answer;  // of the read under way
};

std::unique_ptr<Sensor> make_ph(const Params& params, Context& context) {
  return std::make_unique<TextCircuit>(kPh, completed(params, kPhParams), context);
}
std::unique_ptr<Sensor> make_ec(const Params& params, Context& context) {
  return std::make_unique<TextCircuit>(kEc, completed(params, kEcParams), context);
}

}  // namespace

constinit const SensorInfo kTextPh{
    .name = "text_ph",
    .about = "pH from a probe's carrier board that speaks text on I2C",
    .channels = kPhChannels,
    .params = kPhParams,
    .fastest_period = seconds{2},
    .deadline = kDeadline,
    .simulated = false,
    .strand = i2c::strand,
    .make = make_ph,
    .boot_line = i2c::kBootLine,
};

constinit const SensorInfo kTextEc{
    .name = "text_ec",
    .about = "EC from a probe's carrier board that speaks text on I2C",
    .channels = kEcChannels,
    .params = kEcParams,
    .fastest_period = seconds{2},
    .deadline = kDeadline,
    .simulated = false,
    .strand = i2c::strand,
    .make = make_ec,
    .boot_line = i2c::kBootLine,
};

}  // namespace neap::drivers
