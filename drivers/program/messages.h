// The lines of schema/program-driver.md as values: requests are written here, answers are read
// here.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/core/outputs.h"
#include "daemon/core/reading.h"
#include "daemon/core/units.h"
#include "drivers/driver.h"

namespace neap::drivers::program {

// What a program may measure: a closed list, so that a unit is never in doubt.
inline constexpr std::array kChannels{
    ChannelSpec{"temperature", "C", -60, 150}, ChannelSpec{"humidity", "%", 0, 100},
    ChannelSpec{"level", "L", 0, 1000},        ChannelSpec{"ph", "pH", 0, 14},
    ChannelSpec{"ec", "mS/cm", 0, 20},         ChannelSpec{"light", "lx", 0, 200000},
    ChannelSpec{"contact", "", 0, 3},
};

// On every request: its number, which the answer repeats, and the tick where somebody keeps one.
struct Stamp {
  std::int64_t seq = 0;
  std::optional<std::int64_t> t_ms;
};

std::string hello_to_sensor(const Stamp& stamp);
std::string hello_to_output(const Stamp& stamp, Output output);
std::string read_request(const Stamp& stamp);
std::string write_request(const Stamp& stamp, Permille level);
std::string bye_request(const Stamp& stamp);
// To a plant in lockstep, which serves many parts: each request names its own.
std::string hello_to_plant(const Stamp& stamp, const std::string& local_time);
std::string read_request(const Stamp& stamp, const std::string& part);
std::string write_request(const Stamp& stamp, Output output, Permille level);
std::string read_back_request(const Stamp& stamp, Output output);

enum class Role : std::uint8_t { sensor, output, plant };

struct ChannelValue {
  std::optional<double> value;
  Fault fault = Fault::no_answer;  // stands until the program gives a value
};
using ChannelValues = std::array<ChannelValue, kChannels.size()>;

struct Answer {
  std::optional<std::int64_t> seq;  // absent in what the program says unasked
  bool edge = false;
  bool at_eof = false;  // the last line: what it did when its input ended
  bool ok = true;       // false: understood, but cannot
  std::optional<Role> role;
  bool safe_on_eof = false;
  std::optional<Permille> level;
  std::optional<ChannelValues> values;
};

// Nothing when the line is not one JSON object of the protocol: a wrong type, an unknown channel, a
// level outside 0..1000. A value that is no finite number spoils its channel only (corrupt).
std::optional<Answer> parse_answer(std::string_view line);

}  // namespace neap::drivers::program
