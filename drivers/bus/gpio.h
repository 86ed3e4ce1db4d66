// Lines of GPIO chips through the character device, version 2 of its interface (linux/gpio.h,
// kernel 5.10 and later, Documentation/userspace-api/gpio in later ones). /sys/class/gpio is
// deprecated and not used.
//
// What the kernel does, seen on Debian 6.1 and 6.12:
//   - numbers in gpiochip0 move from boot to boot: a chip is found by its label, twins by a part of
//     the device path;
//   - a line has one owner at a time, and the next one gets EBUSY; GET_LINEINFO names the owner;
//   - an output that is asked for drives its first level from that very call on, active-low or not;
//   - when the owner dies a line falls to its pull or keeps its level, as the chip likes: nothing
//     here may be relied on for that, neap-outputs-safe is there for it;
//   - when the chip goes, every call on a line says ENODEV, and poll() POLLERR with POLLHUP.
#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "drivers/bus/descriptor.h"
#include "drivers/driver.h"

namespace neap::drivers::gpio {

// The calls that the kernel answers for a line. Tests have a kernel of their own, which refuses as
// the real one does.
class System {
 public:
  virtual ~System() = default;
  virtual Descriptor open(const std::string& path, int& error) = 0;
  // The errno of the call; 0 when it was done.
  virtual int call(int descriptor, unsigned long request, void* argument) = 0;
};

// Where a line is: the parameters that every GPIO driver has.
struct Place {
  std::string chip;    // its label
  std::string device;  // a component of its device path; empty where the label is enough
  std::string line;    // its name, or its offset in digits
};
inline constexpr ParamSpec kChipParam{
    "chip", ParamKind::text,
    true,   "",
    0,      0,
    "",     "the chip's label, such as pinctrl-bcm2711; gpiodetect lists them, their numbers move"};
inline constexpr ParamSpec kDeviceParam{
    "device",
    ParamKind::text,
    false,
    "",
    0,
    0,
    "",
    "tells twins apart: a component of the device path, such as 1-0020; not needed for one"};
inline constexpr ParamSpec kLineParam{
    "line", ParamKind::text,
    true,   "",
    0,      0,
    "",     "the line's name, such as GPIO17, or its number on the chip"};
inline constexpr ParamSpec kInputBiasParam{
    "bias",
    ParamKind::choice,
    false,
    "pull_up",
    0,
    0,
    "as_is pull_up pull_down none",
    "the chip's own resistor; pull_up suits a contact to ground, none an external resistor"};
Place place_of(const Params& params);
// The chip of `place` as one word, for the name of a strand.
std::string chip_key(const Place& place);
// The line as one word: what another output may not use. "gpio:pinctrl-bcm2711:GPIO17".
std::string line_key(const Place& place);

// Chips and lines as a driver reaches them.
struct Machine {
  explicit Machine(const Context& context);
  std::string sysfs_root;
  std::string dev_root;
  System* system;
};

// Why something was refused: place, rule and remedy in one sentence.
struct Refusal {
  Fault fault = Fault::none;
  std::string why;
};

struct Chip {
  Descriptor descriptor;
  std::string name;  // gpiochip0
  std::uint32_t lines = 0;
};
// The one chip that `place` names; none: see `refusal`.
std::optional<Chip> find_chip(const Machine& machine, const Place& place, Refusal& refusal);
// The offset of the line on `chip`. A name must be that of one line only.
std::optional<std::uint32_t> find_line(const Machine& machine, const Chip& chip, const Place& place,
                                       Refusal& refusal);
// Is the line held by somebody? Then `refusal` says by whom.
bool is_held(const Machine& machine, const Chip& chip, const Place& place, std::uint32_t offset,
             Refusal& refusal);
// What `error`, the answer to `what`, means at `place`.
Refusal refused(const Place& place, const std::string& what, int error);

// --- inputs -------------------------------------------------------------------------------------

struct InputWanted {
  bool active_low = false;
  std::string bias;  // a choice of kInputBiasParam
  bool falling_too = true;
  Millis debounce{};         // by the chip or, where it cannot, by the kernel; 0: none
  std::uint32_t events = 0;  // that the kernel should keep at least; 0: its default of 16
};
// The line with its edges, not blocking; nothing when it was refused. Values and edges are logical.
std::optional<Descriptor> open_input(const Machine& machine, const Place& place,
                                     const InputWanted& wanted, Refusal& refusal);
// Is the line active now?
std::optional<bool> read_line(const Machine& machine, const Place& place, const Descriptor& line,
                              Refusal& refusal);

struct Edge {
  bool active = false;           // the state it went to
  std::uint64_t at_ns = 0;       // CLOCK_MONOTONIC, by the kernel
  std::uint32_t line_seqno = 0;  // counts on even where events were lost
};
// The edges that wait in the kernel.
struct Drained {
  std::optional<Edge> first;
  std::optional<Edge> last;
  bool lost = false;  // some before `first`: the kernel keeps the newest
  bool gone = false;  // the chip is
};
// `next_seqno`: of the edge that should come next; kept by the caller, one a line.
Drained drain(const Descriptor& line, std::uint32_t& next_seqno);

// --- outputs ------------------------------------------------------------------------------------

// One output line. Its level is logical: true drives the active level.
class OutputLine {
 public:
  virtual ~OutputLine() = default;
  virtual Fault write(bool active) = 0;
  virtual std::optional<bool> read() = 0;
  virtual std::string trouble() const = 0;
};

// All output lines of one chip. Drivers are made one by one and know nothing of each other; their
// lines are collected here and asked for in one request by the first write, so that all of them
// leave the boot's pull in the same moment, each at its first level. A line that another process
// holds is left out and does not keep the others: it alone has no answer, and says who holds it.
// The drivers of one chip share a strand, named by chip_key().
class OutputChip : public std::enable_shared_from_this<OutputChip> {
 public:
  OutputChip(Machine machine, Place chip);
  ~OutputChip();
  // Touches no hardware. `first`: the level from the request on, until the first write.
  std::unique_ptr<OutputLine> add(const Place& place, bool active_low, bool first);

 private:
  struct Request;
  struct Slot;
  class Line;
  using Slots = std::vector<std::shared_ptr<Slot>>;
  Slots slots();
  void ask_for_lines();
  Slots resolve(const Chip& chip, const Slots& wanted);
  int ask(const Chip& chip, const Slots& sound);
  bool done(Slot& slot, int error, const char* what);

  Machine machine_;
  Place chip_;
  std::mutex mutex_;  // of slots_: drivers come and go on the loop, which must not wait for a call
  std::vector<std::weak_ptr<Slot>> slots_;
};

// The chips with lines in use, by chip_key(). A chip goes when its last driver does, and lets go of
// its lines.
struct OutputChips {
  std::map<std::string, std::weak_ptr<OutputChip>> by_key;
};
std::shared_ptr<OutputChip> output_chip(Context& context, const Place& place);

}  // namespace neap::drivers::gpio
