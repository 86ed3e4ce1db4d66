#include "drivers/bus/gpio.h"

#include <fcntl.h>
#include <linux/gpio.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <charconv>
#include <cstring>
#include <filesystem>
#include <system_error>

#include "drivers/bus/errors.h"
#include "drivers/bus/kernel.h"

namespace neap::drivers::gpio {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view kConsumer = "neap";

class KernelSystem final : public System {
 public:
  Descriptor open(const std::string& path, int& error) override {
    Descriptor descriptor{::open(path.c_str(), O_RDWR | O_CLOEXEC)};
    error = descriptor ? 0 : errno;
    return descriptor;
  }
  int call(int descriptor, unsigned long request, void* argument) override {
    return ::ioctl(descriptor, request, argument) < 0 ? errno : 0;
  }
};

System& kernel_system() {
  static KernelSystem kernel;
  return kernel;
}

template <std::size_t N>
std::string text_of(const char (&name)[N]) {
  return {name, ::strnlen(name, N)};
}

std::string chip_words(const Place& place) {
  return "GPIO chip " + place.chip + (place.device.empty() ? "" : " (" + place.device + ")");
}

// gpiochip0, gpiochip1, ... in the order of their names.
std::vector<std::string> chip_names(const Machine& machine) {
  std::vector<std::string> names;
  std::error_code error;
  for (fs::directory_iterator entry{machine.dev_root, error}, end; !error && entry != end;
       entry.increment(error)) {
    std::string name = entry->path().filename().string();
    if (name.starts_with("gpiochip")) names.push_back(std::move(name));
  }
  std::sort(names.begin(), names.end());
  return names;
}

bool is_device(const Machine& machine, const std::string& chip_name, const std::string& component) {
  if (component.empty()) return true;
  std::error_code error;
  const fs::path link = fs::path{machine.sysfs_root} / "bus/gpio/devices" / chip_name;
  const fs::path resolved = fs::canonical(link, error);
  return !error && has_component(resolved.string(), component);
}

Refusal no_chip(const Place& place, const std::string& seen, const std::string& denied) {
  if (!denied.empty())
    return {Fault::denied, "neapd may not open " + denied +
                               "; add its user to the group that owns it, most often gpio"};
  return {Fault::absent, chip_words(place) + " is not there; there " +
                             (seen.empty() ? "is no GPIO chip at all" : "are " + seen) +
                             "; correct `chip` or `device`, or the board's boot configuration"};
}

std::optional<std::uint32_t> as_offset(const std::string& line) {
  std::uint32_t offset = 0;
  const char* end = line.data() + line.size();
  const auto [stop, error] = std::from_chars(line.data(), end, offset);
  if (error != std::errc{} || stop != end) return std::nullopt;
  return offset;
}

std::uint64_t bias_flag(const std::string& bias) {
  if (bias == "pull_up") return GPIO_V2_LINE_FLAG_BIAS_PULL_UP;
  if (bias == "pull_down") return GPIO_V2_LINE_FLAG_BIAS_PULL_DOWN;
  if (bias == "none") return GPIO_V2_LINE_FLAG_BIAS_DISABLED;
  return 0;
}

Edge edge_of(const gpio_v2_line_event& event) {
  return {event.id == GPIO_V2_LINE_EVENT_RISING_EDGE, event.timestamp_ns, event.line_seqno};
}

}  // namespace

Place place_of(const Params& params) {
  return {params.text("chip"), params.text("device"), params.text("line")};
}

std::string chip_key(const Place& place) {
  return "gpio:" + place.chip + (place.device.empty() ? "" : ":" + place.device);
}

std::string line_key(const Place& place) { return chip_key(place) + ":" + place.line; }

Machine::Machine(const Context& context)
    : sysfs_root(context.sysfs_root),
      dev_root(context.dev_root),
      system(context.gpio_system != nullptr ? context.gpio_system : &kernel_system()) {}

Refusal refused(const Place& place, const std::string& what, int error) {
  return {fault_of(error),
          line_key(place) + ": " + what + ": " + std::generic_category().message(error)};
}

std::optional<Chip> find_chip(const Machine& machine, const Place& place, Refusal& refusal) {
  std::optional<Chip> found;
  std::string seen;
  std::string denied;
  for (const std::string& name : chip_names(machine)) {
    int error = 0;
    const std::string path = machine.dev_root + "/" + name;
    Descriptor descriptor = machine.system->open(path, error);
    if (!descriptor) {
      if (error == EACCES || error == EPERM) denied = path;
      continue;
    }
    gpiochip_info about{};
    if (machine.system->call(descriptor.get(), GPIO_GET_CHIPINFO_IOCTL, &about) != 0) continue;
    const std::string label = text_of(about.label);
    seen += (seen.empty() ? "" : ", ") + label + " (" + name + ")";
    if (label != place.chip || !is_device(machine, name, place.device)) continue;
    if (found) {
      refusal = {Fault::ambiguous, chip_words(place) + " is there more than once: " + found->name +
                                       " and " + name +
                                       "; name a part of its device path in `device`"};
      return std::nullopt;
    }
    found = Chip{std::move(descriptor), name, about.lines};
  }
  if (!found) refusal = no_chip(place, seen, denied);
  return found;
}

std::optional<std::uint32_t> find_line(const Machine& machine, const Chip& chip, const Place& place,
                                       Refusal& refusal) {
  if (const auto offset = as_offset(place.line)) {
    if (*offset < chip.lines) return offset;
    refusal = {Fault::absent, chip_words(place) + " has lines 0 to " +
                                  std::to_string(chip.lines - 1) + "; " + place.line +
                                  " is none of them; correct `line`"};
    return std::nullopt;
  }
  std::optional<std::uint32_t> found;
  for (std::uint32_t offset = 0; offset < chip.lines; ++offset) {
    gpio_v2_line_info about{};
    about.offset = offset;
    const int error =
        machine.system->call(chip.descriptor.get(), GPIO_V2_GET_LINEINFO_IOCTL, &about);
    if (error != 0) {
      refusal = refused(place, "cannot be looked up", error);
      return std::nullopt;
    }
    if (text_of(about.name) != place.line) continue;
    if (found) {
      refusal = {Fault::ambiguous, chip_words(place) + " has two lines " + place.line + ", " +
                                       std::to_string(*found) + " and " + std::to_string(offset) +
                                       "; write the number in `line`"};
      return std::nullopt;
    }
    found = offset;
  }
  if (!found)
    refusal = {Fault::absent, chip_words(place) + " has no line " + place.line +
                                  "; correct `line`, or write its number"};
  return found;
}

bool is_held(const Machine& machine, const Chip& chip, const Place& place, std::uint32_t offset,
             Refusal& refusal) {
  gpio_v2_line_info about{};
  about.offset = offset;
  if (machine.system->call(chip.descriptor.get(), GPIO_V2_GET_LINEINFO_IOCTL, &about) != 0)
    return false;
  if ((about.flags & GPIO_V2_LINE_FLAG_USED) == 0) return false;
  const std::string holder = text_of(about.consumer);
  refusal = {Fault::taken,
             line_key(place) + " is held by " +
                 (holder.empty() ? "somebody who gave no name" : "\"" + holder + "\"") +
                 "; stop that program or overlay, or choose another line"};
  return true;
}

std::optional<Descriptor> open_input(const Machine& machine, const Place& place,
                                     const InputWanted& wanted, Refusal& refusal) {
  const auto chip = find_chip(machine, place, refusal);
  if (!chip) return std::nullopt;
  const auto offset = find_line(machine, *chip, place, refusal);
  if (!offset) return std::nullopt;

  gpio_v2_line_request request{};
  request.offsets[0] = *offset;
  request.num_lines = 1;
  request.event_buffer_size = wanted.events;
  kConsumer.copy(request.consumer, sizeof request.consumer - 1);
  request.config.flags =
      GPIO_V2_LINE_FLAG_INPUT | GPIO_V2_LINE_FLAG_EDGE_RISING | bias_flag(wanted.bias);
  if (wanted.falling_too) request.config.flags |= GPIO_V2_LINE_FLAG_EDGE_FALLING;
  if (wanted.active_low) request.config.flags |= GPIO_V2_LINE_FLAG_ACTIVE_LOW;
  if (wanted.debounce > Millis{0}) {
    auto& attribute = request.config.attrs[request.config.num_attrs++];
    attribute.attr.id = GPIO_V2_LINE_ATTR_ID_DEBOUNCE;
    attribute.attr.debounce_period_us = static_cast<std::uint32_t>(wanted.debounce.count() * 1000);
    attribute.mask = 1;
  }
  const int error = machine.system->call(chip->descriptor.get(), GPIO_V2_GET_LINE_IOCTL, &request);
  if (error != 0) {
    if (error != EBUSY || !is_held(machine, *chip, place, *offset, refusal))
      refusal = refused(place, "cannot be had as an input with edges", error);
    return std::nullopt;
  }
  Descriptor line{request.fd};
  ::fcntl(line.get(), F_SETFL, O_NONBLOCK);  // its edges are fetched until there are no more
  return line;
}

std::optional<bool> read_line(const Machine& machine, const Place& place, const Descriptor& line,
                              Refusal& refusal) {
  gpio_v2_line_values values{};
  values.mask = 1;
  const int error = machine.system->call(line.get(), GPIO_V2_LINE_GET_VALUES_IOCTL, &values);
  if (error == 0) return (values.bits & 1) != 0;
  refusal = refused(place, "cannot be read", error);
  return std::nullopt;
}

Drained drain(const Descriptor& line, std::uint32_t& next_seqno) {
  Drained out;
  std::array<gpio_v2_line_event, 16> events{};
  while (true) {
    const ssize_t got = ::read(line.get(), events.data(), sizeof events);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0 && errno == EAGAIN) return out;
    if (got <= 0) {
      out.gone = true;
      return out;
    }
    for (std::size_t i = 0; i < static_cast<std::size_t>(got) / sizeof events[0]; ++i) {
      if (!out.first) {
        out.first = edge_of(events[i]);
        out.lost = events[i].line_seqno != next_seqno;
      }
      out.last = edge_of(events[i]);
      next_seqno = events[i].line_seqno + 1;
    }
  }
}

}  // namespace neap::drivers::gpio
