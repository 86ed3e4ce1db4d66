#include "drivers/outputs/pwm.h"

#include <array>
#include <vector>

#include "drivers/bus/kernel.h"
#include "drivers/bus/steps.h"

namespace neap::drivers {
namespace {

constexpr double kNsPerSecond = 1e9;
constexpr const char* kFolder = "class/pwm";

constexpr ParamSpec kChip{
    "chip", ParamKind::text,
    true,   "",
    0,      0,
    "",     "a component of the PWM chip's device path, such as 1f00098000.pwm; its number moves"};
constexpr ParamSpec kChannel{"channel", ParamKind::integer,
                             false,     "0",
                             0,         63,
                             "",        "the channel of the chip, counted from 0"};
constexpr ParamSpec kInverted{
    "inverted",
    ParamKind::truth,
    false,
    "false",
    0,
    0,
    "",
    "true: a transistor between pin and device turns the signal round, so that a dead board runs "
    "the fan at full speed"};
constexpr double kSlowest = 1;
constexpr double kFastest = 100'000;

constexpr std::array kFanParams{
    kChip,
    kChannel,
    ParamSpec{"frequency_hz", ParamKind::number, false, "25000", kSlowest, kFastest, "",
              "four-wire fans want 21 to 28 kHz (Intel's specification of them, revision 1.3)"},
    kInverted,
    kLowestParam,
};
constexpr std::array kLightParams{
    kChip,
    kChannel,
    ParamSpec{"frequency_hz", ParamKind::number, false, "1000", kSlowest, kFastest, "",
              "what the lamp's driver takes; 1 kHz suits most (common practice, no source)"},
    kInverted,
    kLowestParam,
};

class Pwm final : public OutputDriver {
 public:
  Pwm(const Params& params, const Context& context)
      : kernel_(kernel_of(context)),
        chip_(params.text("chip")),
        channel_(std::to_string(params.integer("channel"))),
        period_(std::llround(kNsPerSecond / params.number("frequency_hz"))),
        steps_(params.truth("inverted") ? steps_of(params, period_, 0)
                                        : steps_of(params, 0, period_)) {}

  Fault write(Permille level) override {
    if (level < kStopped || level > kRunning) return Fault::out_of_range;
    trouble_.clear();
    if (const Fault fault = reach(); fault != Fault::none) return fault;
    return set(steps_.number(level));
  }

  std::optional<Permille> read_back() override {
    trouble_.clear();
    if (reach() != Fault::none) return std::nullopt;
    if (text("enable") != "1" || text("polarity") != "normal" || number("period") != period_)
      return std::nullopt;
    const auto duty = number("duty_cycle");
    return duty ? steps_.level(*duty) : std::nullopt;
  }

  std::string trouble() const override { return trouble_; }

 private:
  // Finds the chip, and exports the channel where nobody has yet.
  Fault reach() {
    const Fault found = find_chip();
    if (found != Fault::none) return found;
    if (kernel_->read(path("period")).fault == Fault::none) return Fault::none;
    const Fault exported = kernel_->write(chip_path_ + "/export", channel_);
    if (exported == Fault::none) return Fault::none;
    trouble_ = "PWM chip " + chip_ + " does not export channel " + channel_ +
               "; correct `channel`, or stop what else uses it";
    return exported;
  }

  Fault find_chip() {
    chip_path_.clear();
    std::string seen;
    for (const std::string& name : kernel_->list(kFolder)) {
      const std::string candidate = std::string{kFolder} + "/" + name;
      const auto resolved = kernel_->resolve(candidate);
      if (!resolved) continue;
      seen += (seen.empty() ? "" : ", ") + *resolved;
      if (!has_component(*resolved, chip_)) continue;
      if (!chip_path_.empty()) {
        trouble_ = "more than one PWM chip has " + chip_ + " in its path: " + seen +
                   "; write more of it in `chip`";
        return Fault::ambiguous;
      }
      chip_path_ = candidate;
    }
    if (!chip_path_.empty()) return Fault::none;
    trouble_ = "no PWM chip has " + chip_ + " in its device path; there " +
               (seen.empty() ? "is none at all: load its overlay" : "are " + seen);
    return Fault::absent;
  }

  struct Write {
    const char* attribute;
    std::string value;
  };

  // What must be written, in the kernel's order, so that the channel has this duty.
  std::vector<Write> writes_for(std::int64_t duty) {
    std::vector<Write> writes;
    const bool upright = text("polarity") == "normal";
    const bool enabled = text("enable") == "1";
    if (!upright && enabled) writes.push_back({"enable", "0"});
    if (!upright) writes.push_back({"polarity", "normal"});
    const Write set_duty{"duty_cycle", std::to_string(duty)};
    if (number("period") != period_) {
      if (number("duty_cycle").value_or(0) > period_) writes.push_back(set_duty);
      writes.push_back({"period", std::to_string(period_)});
    }
    writes.push_back(set_duty);
    if (!upright || !enabled) writes.push_back({"enable", "1"});
    return writes;
  }

  Fault set(std::int64_t duty) {
    for (const Write& next : writes_for(duty)) {
      const Fault fault = kernel_->write(path(next.attribute), next.value);
      if (fault == Fault::none) continue;
      trouble_ = "/sys/" + path(next.attribute) + " does not take " + next.value +
                 "; see that neapd's user may write it, and that the chip knows this frequency";
      return fault;
    }
    return Fault::none;
  }

  std::string path(const char* attribute) const {
    return chip_path_ + "/pwm" + channel_ + "/" + attribute;
  }
  std::string text(const char* attribute) {
    return kernel_->read(path(attribute)).text.value_or("");
  }
  std::optional<std::int64_t> number(const char* attribute) {
    const auto value = sysfs::parse_decimal(text(attribute));
    return value ? std::optional(std::llround(*value)) : std::nullopt;
  }

  std::shared_ptr<Kernel> kernel_;
  std::string chip_;
  std::string channel_;
  std::int64_t period_;  // ns
  Steps steps_;
  std::string chip_path_;  // by the last reach()
  std::string trouble_;
};

std::string strand(const Params& params) { return "pwm:" + params.text("chip"); }
std::string resource(const Params& params, Output) {
  return strand(params) + ":" + std::to_string(params.integer("channel"));
}

template <const auto& kSpecs>
std::unique_ptr<OutputDriver> make(const Params& params, Output, Context& context) {
  return std::make_unique<Pwm>(completed(params, kSpecs), context);
}

template <const auto& kSpecs>
constexpr OutputDriverInfo driver(std::string_view name, std::string_view about) {
  return {.name = name,
          .about = about,
          .params = kSpecs,
          .variable = true,
          .safe_on_silence = false,
          .simulated = false,
          .strand = strand,
          .resource = resource,
          .make = make<kSpecs>};
}

}  // namespace

constinit const OutputDriverInfo kPwmFan =
    driver<kFanParams>("pwm_fan", "a fan with four wires on a PWM channel of the kernel");
constinit const OutputDriverInfo kPwmLight =
    driver<kLightParams>("pwm_light", "a lamp's dimming input on a PWM channel of the kernel");

}  // namespace neap::drivers
