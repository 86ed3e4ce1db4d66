#include "drivers/outputs/level_file.h"

#include <array>
#include <cmath>
#include <filesystem>
#include <system_error>

#include "drivers/bus/steps.h"
#include "drivers/bus/sysfs.h"

namespace neap::drivers {
namespace {

namespace fs = std::filesystem;

// Wide enough for a PWM duty in nanoseconds at 1 Hz; still exact in the arithmetic below.
constexpr double kHighestNumber = 1e9;

constexpr std::array kParams{
    ParamSpec{"path", ParamKind::path, true, "", 0, 0, "",
              "the file; relative to /sys, or absolute"},
    ParamSpec{"running", ParamKind::integer, false, "1", 0, kHighestNumber, "",
              "number for full level; 1 is what a relay as an LED takes, a hwmon pwm takes 255"},
    ParamSpec{"stopped", ParamKind::integer, false, "0", 0, kHighestNumber, "",
              "number for level none; larger than `running` where the drive is inverted"},
    ParamSpec{"variable", ParamKind::truth, false, "false", 0, 0, "",
              "true: levels between are written as numbers between; a relay knows only the two"},
};

fs::path resolve(const Params& params, const std::string& sysfs_root) {
  return fs::path{sysfs_root} / params.text("path");  // an absolute path replaces the root
}

class LevelFile final : public OutputDriver {
 public:
  LevelFile(const Params& params, const Context& context)
      : path_(resolve(params, context.sysfs_root)),
        running_(params.integer("running")),
        stopped_(params.integer("stopped")),
        variable_(params.truth("variable")) {}

  Fault write(Permille level) override {
    if (level < kStopped || level > kRunning) return Fault::out_of_range;
    if (!variable_ && level != kStopped && level != kRunning) return Fault::out_of_range;
    const std::int64_t number = stopped_ + std::llround(span() * level.value / kRunning.value);
    return sysfs::write_attribute(path_, std::to_string(number) + "\n");
  }

  std::optional<Permille> read_back() override {
    const auto attribute = sysfs::read_attribute(path_);
    if (!attribute.text) return std::nullopt;
    const auto number = sysfs::parse_decimal(*attribute.text);
    if (!number) return std::nullopt;
    const double part = (*number - static_cast<double>(stopped_)) / span();
    // Not a number between the two (or no number at all, when they are equal): nobody's level.
    if (!(part >= 0 && part <= 1)) return std::nullopt;
    if (!variable_ && part != 0 && part != 1) return std::nullopt;
    return Permille{static_cast<int>(std::lround(part * kRunning.value))};
  }

 private:
  double span() const { return static_cast<double>(running_ - stopped_); }

  fs::path path_;
  std::int64_t running_;
  std::int64_t stopped_;
  bool variable_;
};

// The real file behind the links, so that two names of one pin are seen as one.
std::string real_path(const Params& params) {
  std::error_code error;
  const fs::path path = resolve(params, Context{}.sysfs_root);
  const fs::path real = fs::weakly_canonical(path, error);
  return (error ? path.lexically_normal() : real).string();
}

std::string strand(const Params& params) { return "file:" + real_path(params); }
std::string resource(const Params& params, Output) { return real_path(params); }

std::string check(const Params& params) { return ends_objection(completed(params, kParams)); }

std::unique_ptr<OutputDriver> make(const Params& params, Output, Context& context) {
  return std::make_unique<LevelFile>(completed(params, kParams), context);
}

}  // namespace

constinit const OutputDriverInfo kLevelFile{
    .name = "level_file",
    .about = "a number written into a file: kernel LED, PWM or DAC attribute",
    .params = kParams,
    .variable = true,
    .safe_on_silence = false,
    .simulated = false,
    .strand = strand,
    .resource = resource,
    .make = make,
    .check = check,
};

}  // namespace neap::drivers
