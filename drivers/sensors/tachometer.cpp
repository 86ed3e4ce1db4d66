#include "drivers/sensors/tachometer.h"

#include <array>

#include "drivers/bus/gpio.h"

namespace neap::drivers {
namespace {

constexpr double kMostRpm = 30000;
constexpr std::array kChannels{ChannelSpec{"turning", "", 0, 1},
                               ChannelSpec{"speed", "rpm", 0, kMostRpm}};

constexpr double kMostPulses = 1000;
constexpr std::array kParams{
    gpio::kChipParam,
    gpio::kDeviceParam,
    gpio::kLineParam,
    gpio::kInputBiasParam,
    ParamSpec{"pulses_a_turn", ParamKind::number, false, "2", 0.1, kMostPulses, "",
              "2 for a fan with a tachometer wire (Intel's specification of four-wire fans, "
              "revision 1.3); a flow meter's label says its own"},
    ParamSpec{"turning_from_rpm", ParamKind::number, false, "200", 61, 100'000, "",
              "at this many turns a minute it counts as turning; measure what runs and what seeps"},
};

// At 61 rpm and one pulse a turn two pulses fall into the window; slower is not told from standing.
constexpr Millis kWindow{2000};
constexpr Millis kDeadline{1000};
constexpr Millis kFastestPeriod{1000};
constexpr double kNsAMinute = 60e9;
// Room for the pulses of a window at full speed, so that the first of them is still there.
constexpr std::uint32_t kEvents = 512;

class Tachometer final : public Sensor {
 public:
  Tachometer(const Params& params, const Context& context)
      : machine_(context),
        place_(gpio::place_of(params)),
        wanted_{.bias = params.text("bias"), .falling_too = false, .events = kEvents},
        pulses_a_turn_(params.number("pulses_a_turn")),
        turning_from_(params.number("turning_from_rpm")) {}

  Started begin() override {
    if (line_ && gpio::drain(*line_, next_seqno_).gone) line_.reset();
    if (!line_) {
      line_ = gpio::open_input(machine_, place_, wanted_, refusal_);
      if (!line_) return {refusal_.fault, {}};
      refusal_ = {};
    }
    return {Fault::none, kWindow};
  }

  void finish(Deliveries& out) override {
    const gpio::Drained pulses = gpio::drain(*line_, next_seqno_);
    // A line without a pulse says nothing of its chip; its level does.
    if (!gpio::read_line(machine_, place_, *line_, refusal_)) {
      line_.reset();
      for (const int channel : {0, 1}) out.push({channel, std::nullopt, refusal_.fault});
      return;
    }
    const double speed = rpm(pulses);
    out.push({0, speed >= turning_from_ ? 1.0 : 0.0, Fault::none});
    out.push({1, speed, Fault::none});
  }

  std::string trouble() const override { return refusal_.why; }

 private:
  // 0 with fewer than two pulses: less than the slowest speed that may be asked for.
  double rpm(const gpio::Drained& pulses) const {
    if (!pulses.first || pulses.last->at_ns <= pulses.first->at_ns) return 0;
    const std::uint32_t turned = pulses.last->line_seqno - pulses.first->line_seqno;
    const auto ns = static_cast<double>(pulses.last->at_ns - pulses.first->at_ns);
    return turned / pulses_a_turn_ * kNsAMinute / ns;
  }

  gpio::Machine machine_;
  gpio::Place place_;
  gpio::InputWanted wanted_;
  double pulses_a_turn_;
  double turning_from_;
  std::optional<Descriptor> line_;
  std::uint32_t next_seqno_ = 1;
  gpio::Refusal refusal_;
};

std::string strand(const Params& params) {
  return gpio::chip_key(gpio::place_of(params)) + " contacts";
}

std::unique_ptr<Sensor> make(const Params& params, Context& context) {
  return std::make_unique<Tachometer>(completed(params, kParams), context);
}

}  // namespace

constinit const SensorInfo kTachometer{
    .name = "tachometer",
    .about = "a flow meter's wheel, or a fan's tachometer wire, on a GPIO line",
    .channels = kChannels,
    .params = kParams,
    .fastest_period = kFastestPeriod,
    .deadline = kDeadline,
    .simulated = false,
    .strand = strand,
    .make = make,
};

}  // namespace neap::drivers
