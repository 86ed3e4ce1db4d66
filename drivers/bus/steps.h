// A level as a device's own number: nanoseconds of a PWM's duty, steps of a DAC.
#pragma once

#include <cmath>
#include <cstdint>
#include <optional>
#include <string>

#include "daemon/core/units.h"
#include "drivers/driver.h"

namespace neap::drivers {

// Level 0 is `none`; the levels 1 to 1000 are spread evenly from `lowest` to `full`, which may lie
// below `none` where the drive is inverted.
struct Steps {
  std::int64_t none = 0;
  std::int64_t lowest = 0;
  std::int64_t full = 0;

  std::int64_t number(Permille level) const {
    if (level == kStopped) return none;
    return lowest + std::llround(static_cast<double>(full - lowest) * level.value / kRunning.value);
  }
  // None for a number that no level has: somebody else wrote it.
  std::optional<Permille> level(std::int64_t number) const {
    if (number == none) return kStopped;
    const double part = static_cast<double>(number - lowest) / static_cast<double>(full - lowest);
    if (!(part >= 0 && part <= 1)) return std::nullopt;
    return Permille{static_cast<int>(std::lround(part * kRunning.value))};
  }
};

inline constexpr ParamSpec kLowestParam{"lowest",
                                        ParamKind::number,
                                        false,
                                        "0",
                                        0,
                                        90,
                                        "",
                                        "in %: where level 1 of 1000 stands, so that a fan turns "
                                        "and a lamp burns at every level but 0"};

// From `none` to `full`, with the `lowest` of the parameters between.
inline Steps steps_of(const Params& params, std::int64_t none, std::int64_t full) {
  const double lowest = static_cast<double>(full - none) * params.number("lowest") / 100;
  return {none, none + std::llround(lowest), full};
}

// What is wrong with the numbers `running` and `stopped` of settings; empty when they differ.
inline std::string ends_objection(const Params& params) {
  if (params.integer("running") != params.integer("stopped")) return {};
  return "running and stopped are both " + std::to_string(params.integer("running")) +
         "; they must differ, or the output cannot be told to do anything";
}

}  // namespace neap::drivers
