// The driver contract, written as documentation.
//
// A driver knows one chip, one file or one program, and nothing of neap. It must not: read a clock,
// sleep, retry, log, remember a last good value, clamp to hide a fault, or end the process. The hub
// (daemon/shell/hub) does once for all: schedule, time stamp, back-off, first-and-recovered notes;
// the core judges range, rate, age and agreement.
//
// Strands: drivers that share a bus share a strand, a thread of the shell where they may block up
// to their deadline. Two drivers on one strand never run at once. The scan never waits for a
// strand.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/core/fixed.h"
#include "daemon/core/instant.h"
#include "daemon/core/outputs.h"
#include "daemon/core/reading.h"
#include "daemon/core/units.h"

namespace neap::drivers {

// --- what a driver says of itself (constexpr tables; settings and reference.yaml are checked
// against them, so adding a driver adds no `if` anywhere)
// ------------------------------------------

struct ChannelSpec {
  std::string_view name;  // as settings name it: temperature
  std::string_view unit;  // must equal the unit of the point it is mapped to
  double lowest;          // what the part can measure
  double highest;
};

enum class ParamKind : std::uint8_t { integer, number, text, path, words, choice, truth };

struct ParamSpec {
  std::string_view name;
  ParamKind kind;
  bool required;
  std::string_view fallback;  // as it would stand in YAML; empty when required
  double lowest;              // integer and number
  double highest;
  std::string_view choices;  // choice: "a b c"
  std::string_view why;      // one line: what it is and why that default
};

// Checked by the settings loader against the specs before a driver sees them.
class Params {
 public:
  void set(std::string name, std::string value) { scalars_[std::move(name)] = std::move(value); }
  void set_words(std::string name, std::vector<std::string> words) {
    words_[std::move(name)] = std::move(words);
  }
  std::string text(std::string_view name) const;      // empty when absent
  double number(std::string_view name) const;         // 0 when absent
  std::int64_t integer(std::string_view name) const;  // decimal or 0x
  bool truth(std::string_view name) const;            // "true"
  std::vector<std::string> words(std::string_view name) const;
  const std::map<std::string, std::string, std::less<>>& scalars() const { return scalars_; }
  const std::map<std::string, std::vector<std::string>, std::less<>>& all_words() const {
    return words_;
  }
  bool operator==(const Params&) const = default;

 private:
  std::map<std::string, std::string, std::less<>> scalars_;
  std::map<std::string, std::vector<std::string>, std::less<>> words_;
};

// `given` with the fallback of every scalar that is absent and has one; make() starts with it, so a
// driver behaves alike whether or not its caller filled the defaults in.
Params completed(const Params& given, std::span<const ParamSpec> specs);

// --- sensors ------------------------------------------------------------------------------------

struct Delivery {
  int channel = 0;              // index into SensorInfo::channels
  std::optional<double> value;  // in the channel's unit
  Fault fault = Fault::none;    // why there is none; beside Contact::faulty: which fault
};
using Deliveries = FixedVector<Delivery, 16>;

struct Started {
  Fault fault = Fault::none;
  Millis ready_after{};  // finish() may be called this much later
};

class Sensor {
 public:
  virtual ~Sensor() = default;
  // Starts a conversion. May block on the bus up to SensorInfo::deadline.
  virtual Started begin() = 0;
  // Fetches, checks and converts. One delivery a channel, with a value or a fault.
  virtual void finish(Deliveries& out) = 0;
  // Puts chip or bus back on its feet, when it has been silent for a while: a reset command, a bus
  // cleared. The hub asks, a begin() follows. May block up to SensorInfo::deadline. Only what can
  // hurt no other device of the bus. False: nothing of the kind is known, or was possible.
  virtual bool revive() { return false; }
  // A sensor with edges (floats, leak probes) calls `on_edge` from any thread when a contact
  // changed; the hub then reads it at once. Default: no edges.
  virtual void watch(std::function<void()> on_edge) { (void)on_edge; }
  // What the driver knows of its last fault beyond the Fault: place, rule and remedy in one
  // sentence; empty when that says it all. Asked on the strand, after begin() or finish().
  virtual std::string trouble() const { return {}; }
};

// --- outputs ------------------------------------------------------------------------------------

class OutputDriver {
 public:
  virtual ~OutputDriver() = default;
  // Drives the level; a two-position driver takes only 0 and 1000. Idempotent.
  virtual Fault write(Permille level) = 0;
  // What the line really does; none when it could not be read, or cannot tell
  // (OutputDriverInfo::tells_level).
  virtual std::optional<Permille> read_back() = 0;
  // As Sensor::trouble(), of the last write() or read_back().
  virtual std::string trouble() const { return {}; }
};

// --- where drivers live
// ---------------------------------------------------------------------------

// The world behind simulated drivers. Real drivers have none.
class World {
 public:
  virtual ~World() = default;
  // Steps towards `target` with the outputs as they are. Stops early, at the returned instant, when
  // a contact changed there. Never goes back: a target in the past is a no-op.
  virtual Instant advance_to(Instant target) = 0;
  // Injects or lifts a fault by name; false and a reason when there is no such fault.
  struct FaultAnswer {
    bool accepted = false;
    std::string message;
  };
  virtual FaultAnswer inject(std::string_view fault, bool active, double severity) = 0;
  // Names that inject() knows, each with one line of meaning.
  struct FaultName {
    std::string_view name;
    std::string_view meaning;
  };
  virtual std::span<const FaultName> fault_names() const = 0;
};

namespace program {
class Lockstep;
}
namespace gpio {
class System;
struct OutputChips;
}  // namespace gpio
class Kernel;  // drivers/bus/kernel.h

// What drivers may use of the machine; tests move the roots.
struct Context {
  std::string sysfs_root = "/sys";
  std::string dev_root = "/dev";
  gpio::System* gpio_system = nullptr;  // null: the kernel's own calls
  // The output lines of GPIO chips, which drivers made one by one ask for together (bus/gpio.h).
  std::shared_ptr<gpio::OutputChips> gpio_outputs;
  std::shared_ptr<Kernel> kernel;         // null: the machine's own, below the roots
  program::Lockstep* lockstep = nullptr;  // set under the virtual clock only
  World* world = nullptr;                 // set when settings have a `simulation` block
  // The tick of this moment, in ms, for a driver that must pass it on (the program driver writes it
  // into its messages). No driver may decide by it. Set before make(); empty where nobody keeps a
  // tick, as in neap-outputs-safe. May be called from any strand.
  std::function<std::int64_t()> tick_ms;
};

struct SensorInfo {
  std::string_view name;  // as settings name the driver
  std::string_view about;
  std::span<const ChannelSpec> channels;
  std::span<const ParamSpec> params;
  Millis fastest_period;
  Millis deadline;  // longest blocking of begin() or finish()
  bool simulated;
  std::string (*strand)(const Params&);                      // name of the bus
  std::unique_ptr<Sensor> (*make)(const Params&, Context&);  // touches no hardware yet
  // What the specs cannot say of the params, alone or together: empty when all is well, else rule
  // and remedy in one sentence. Null: the specs say everything.
  std::string (*check)(const Params&) = nullptr;
  // The line of a board's boot configuration that makes the kernel offer the part, where there is
  // one; said when the part is absent.
  std::string_view boot_line = {};
};

struct OutputDriverInfo {
  std::string_view name;
  std::string_view about;
  std::span<const ParamSpec> params;
  bool variable;         // accepts levels between 0 and 1000
  bool safe_on_silence;  // goes safe by itself when neap dies; says so where it does not
  bool simulated;
  std::string (*strand)(const Params&);
  // What another output may not use at the same time ("gpiochip0:17"); empty when shareable.
  std::string (*resource)(const Params&, Output);
  std::unique_ptr<OutputDriver> (*make)(const Params&, Output, Context&);
  std::string (*check)(const Params&) = nullptr;  // as in SensorInfo
  // After a write read_back() has a level, and none is a fault. False where the hardware is blind:
  // then a write that was taken is all the proof there is.
  bool tells_level = true;
};

// The registry: one line a driver (drivers/registry.cpp).
std::span<const SensorInfo* const> sensor_drivers();
std::span<const OutputDriverInfo* const> output_drivers();
const SensorInfo* find_sensor_driver(std::string_view name);
const OutputDriverInfo* find_output_driver(std::string_view name);

}  // namespace neap::drivers
