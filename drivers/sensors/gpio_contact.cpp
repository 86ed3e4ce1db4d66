#include "drivers/sensors/gpio_contact.h"

#include <array>
#include <mutex>

#include "drivers/bus/descriptor_watch.h"
#include "drivers/bus/gpio.h"

namespace neap::drivers {
namespace {

constexpr std::array kChannels{ChannelSpec{"contact", "", 0, 1}};

constexpr std::array kParams{
    gpio::kChipParam,
    gpio::kDeviceParam,
    gpio::kLineParam,
    ParamSpec{"active", ParamKind::choice, true, "", 0, 0, "low high",
              "the line's level while the contact is set: wet, or the float lifted. Choose parts "
              "so that a broken wire, which leaves the line at its bias, stops the pump"},
    gpio::kInputBiasParam,
    ParamSpec{"debounce_ms", ParamKind::integer, false, "20", 0, 1000, "",
              "a level counts when it has stood this long; a reed bounces for a few ms"},
};

// A line of the processor answers in microseconds; one of an I2C expander when its bus does.
constexpr Millis kDeadline{1000};
constexpr Millis kFastestPeriod{100};

// The strand opens, reads and closes the line; the watch's thread only fetches edges. mutex_ guards
// what both touch.
class GpioContact final : public Sensor {
 public:
  GpioContact(const Params& params, const Context& context)
      : machine_(context),
        place_(gpio::place_of(params)),
        wanted_{.active_low = params.text("active") == "low",
                .bias = params.text("bias"),
                .debounce = Millis{params.integer("debounce_ms")}} {}
  ~GpioContact() override { close(); }

  Started begin() override {
    bool gone = false;
    {
      const std::lock_guard lock(mutex_);
      edge_told_ = false;
      if (line_) take_in();
      gone = gone_;
    }
    if (gone) close();
    if (!line_ && !open()) return {refusal_.fault, {}};
    return {};
  }

  void finish(Deliveries& out) override {
    const std::lock_guard lock(mutex_);
    take_in();
    const std::optional<bool> level = gpio::read_line(machine_, place_, *line_, refusal_);
    if (!level) {
      gone_ = true;
      out.push({0, std::nullopt, refusal_.fault});
      return;
    }
    out.push({0, first_edge_.value_or(*level) ? 1.0 : 0.0, Fault::none});
    first_edge_.reset();
  }

  void watch(std::function<void()> on_edge) override { on_edge_ = std::move(on_edge); }
  std::string trouble() const override { return refusal_.why; }

 private:
  bool open() {
    line_ = gpio::open_input(machine_, place_, wanted_, refusal_);
    if (!line_) return false;
    refusal_ = {};
    next_seqno_ = 1;
    if (!on_edge_) return true;
    watch_ = DescriptorWatch::start(line_->get(), [this] { return fetch(); });
    if (watch_) return true;
    refusal_ = {Fault::no_answer, gpio::line_key(place_) +
                                      ": its edges cannot be watched; neapd "
                                      "has too many files open"};
    line_.reset();
    return false;
  }

  void close() {
    watch_.reset();
    line_.reset();
    first_edge_.reset();
    gone_ = false;
  }

  // On the watch's thread. False: there is nothing more to wait for.
  bool fetch() {
    bool tell = false;
    bool gone = false;
    {
      const std::lock_guard lock(mutex_);
      const bool edge = take_in();
      gone = gone_;
      tell = (edge || gone) && !edge_told_;
      edge_told_ = edge_told_ || tell;
    }
    if (tell) on_edge_();  // once between two reads: a chattering contact cannot storm the hub
    return !gone;
  }

  // Fetches the edges that wait; was there one? With mutex_ held.
  bool take_in() {
    const gpio::Drained edges = gpio::drain(*line_, next_seqno_);
    gone_ = gone_ || edges.gone;
    if (!edges.first) return false;
    if (!first_edge_ && !edges.lost) first_edge_ = edges.first->active;
    return true;
  }

  gpio::Machine machine_;
  gpio::Place place_;
  gpio::InputWanted wanted_;
  std::function<void()> on_edge_;
  std::optional<Descriptor> line_;
  gpio::Refusal refusal_;  // of the last begin() or finish(), on the strand

  std::mutex mutex_;
  std::uint32_t next_seqno_ = 1;
  std::optional<bool> first_edge_;  // what the first edge since the last read went to
  bool edge_told_ = false;
  bool gone_ = false;  // the chip is, or it failed: the next begin() asks for the line anew

  std::unique_ptr<DescriptorWatch> watch_;  // goes first: its thread uses all of the above
};

// Apart from the chip's outputs: a read that hangs on an expander does not hold back the pump's
// stop.
std::string strand(const Params& params) {
  return gpio::chip_key(gpio::place_of(params)) + " contacts";
}

std::unique_ptr<Sensor> make(const Params& params, Context& context) {
  return std::make_unique<GpioContact>(completed(params, kParams), context);
}

}  // namespace

constinit const SensorInfo kGpioContact{
    .name = "gpio_contact",
    .about = "a float, a leak contact or a switch on a GPIO line, told at its edges",
    .channels = kChannels,
    .params = kParams,
    .fastest_period = kFastestPeriod,
    .deadline = kDeadline,
    .simulated = false,
    .strand = strand,
    .make = make,
};

}  // namespace neap::drivers
