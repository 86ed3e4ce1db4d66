// A kernel with GPIO chips, for drivers that ask for lines. It refuses as the real one does (seen
// in a guest on Debian 6.1): a line that is held is EBUSY, padding that is not zero or an offset
// that the chip has not is EINVAL, a chip that went is ENODEV. A granted line is the reading end of
// a pipe, in which edges arrive as they do from the kernel.
#pragma once

#include <fcntl.h>
#include <linux/gpio.h>
#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "drivers/bus/gpio.h"
#include "tests/drivers/temporary_folder.h"

namespace neap::test {

struct FakeLine {
  std::string name;
  std::string consumer;  // of another program; empty: free
  bool output = false;
  bool active_low = false;
  bool high = false;  // the wire
  std::uint64_t flags = 0;
  std::uint32_t debounce_us = 0;
  std::vector<bool> driven;  // every level of the wire since it was an output, the first included
};

class FakeGpio final : public drivers::gpio::System {
 public:
  struct Chip {
    std::string label;
    std::vector<FakeLine> lines;
    bool gone = false;
    int refuse_values = 0;  // the errno of every set and get; 0: none
  };

  explicit FakeGpio(drivers::Context& context) {
    context.dev_root = (folder_ / "dev").string();
    context.sysfs_root = (folder_ / "sys").string();
    context.gpio_system = this;
    std::filesystem::create_directories(folder_ / "dev");
  }

  Chip& add(const std::string& name, const std::string& label, std::size_t lines,
            const std::string& device = "platform/board.gpio") {
    folder_.write("dev/" + name, "");
    std::filesystem::create_directories(folder_ / ("sys/devices/" + device + "/" + name));
    std::filesystem::create_directories(folder_ / "sys/bus/gpio/devices");
    std::filesystem::create_directory_symlink(folder_ / ("sys/devices/" + device + "/" + name),
                                              folder_ / ("sys/bus/gpio/devices/" + name));
    Chip& chip = chips_[name];
    chip.label = label;
    chip.lines.resize(lines);
    return chip;
  }
  // The chip goes while its lines are held: calls fail and their pipes end.
  void remove(const std::string& name) {
    chips_.at(name).gone = true;
    std::filesystem::remove(folder_ / ("dev/" + name));
    for (auto& [descriptor, request] : requests_)
      if (request.chip == name) request.edges.reset();
  }
  void deny(const std::string& name) { denied_ = name; }
  Chip& chip(const std::string& name) { return chips_.at(name); }
  int requests() const { return asked_; }

  // Moves a wire and tells its edge to whoever asked for it.
  void move(const std::string& name, std::uint32_t offset, bool high, std::uint64_t at_ns = 0) {
    FakeLine& line = chips_.at(name).lines[offset];
    if (line.high == high) return;
    line.high = high;
    for (auto& [descriptor, request] : requests_)
      if (request.chip == name && request.offsets == std::vector{offset})
        edge(request, line, at_ns);
  }
  // As a full FIFO does: `count` edges are counted and not kept.
  void lose_edges(const std::string& name, std::uint32_t offset, std::uint32_t count) {
    for (auto& [descriptor, request] : requests_)
      if (request.chip == name && request.offsets == std::vector{offset}) request.seqno += count;
  }

  drivers::Descriptor open(const std::string& path, int& error) override {
    const std::string name = std::filesystem::path(path).filename().string();
    error = name == denied_ ? EACCES : chips_.contains(name) && !chips_[name].gone ? 0 : ENODEV;
    if (error != 0) return {};
    drivers::Descriptor descriptor{::open(path.c_str(), O_RDONLY | O_CLOEXEC)};
    opened_[descriptor.get()] = name;
    requests_.erase(descriptor.get());
    return descriptor;
  }

  int call(int descriptor, unsigned long request, void* argument) override {
    if (request == GPIO_V2_LINE_SET_VALUES_IOCTL || request == GPIO_V2_LINE_GET_VALUES_IOCTL)
      return values(descriptor, request, *static_cast<gpio_v2_line_values*>(argument));
    Chip& chip = chips_.at(opened_.at(descriptor));
    if (chip.gone) return ENODEV;
    if (request == GPIO_GET_CHIPINFO_IOCTL) {
      auto& info = *static_cast<gpiochip_info*>(argument);
      chip.label.copy(info.label, sizeof info.label - 1);
      info.lines = static_cast<std::uint32_t>(chip.lines.size());
      return 0;
    }
    if (request == GPIO_V2_GET_LINEINFO_IOCTL)
      return info(chip, *static_cast<gpio_v2_line_info*>(argument));
    if (request == GPIO_V2_GET_LINE_IOCTL)
      return grant(opened_.at(descriptor), *static_cast<gpio_v2_line_request*>(argument));
    return ENOTTY;
  }

 private:
  struct Request {
    std::string chip;
    std::vector<std::uint32_t> offsets;
    drivers::Descriptor edges;  // where its edges are written
    std::uint32_t seqno = 0;
  };

  // Is the reading end still open? It is closed without a call to System.
  static bool alive(const Request& request) {
    pollfd end{request.edges.get(), POLLOUT, 0};
    return ::poll(&end, 1, 0) == 1 && (end.revents & POLLERR) == 0;
  }

  bool ours(const std::string& name, std::uint32_t offset) {
    return std::any_of(requests_.begin(), requests_.end(), [&](const auto& entry) {
      return entry.second.chip == name && alive(entry.second) &&
             std::count(entry.second.offsets.begin(), entry.second.offsets.end(), offset) > 0;
    });
  }

  int info(Chip& chip, gpio_v2_line_info& out) {
    if (out.offset >= chip.lines.size()) return EINVAL;
    const FakeLine& line = chip.lines[out.offset];
    line.name.copy(out.name, sizeof out.name - 1);
    line.consumer.copy(out.consumer, sizeof out.consumer - 1);
    if (!line.consumer.empty()) out.flags |= GPIO_V2_LINE_FLAG_USED;
    return 0;
  }

  int grant(const std::string& name, gpio_v2_line_request& asked) {
    ++asked_;
    Chip& chip = chips_.at(name);
    for (const auto word : asked.padding)
      if (word != 0) return EINVAL;
    if (asked.num_lines == 0 || asked.num_lines > GPIO_V2_LINES_MAX) return EINVAL;
    std::vector<std::uint32_t> offsets(asked.offsets, asked.offsets + asked.num_lines);
    for (std::size_t i = 0; i < offsets.size(); ++i) {
      if (offsets[i] >= chip.lines.size()) return EINVAL;
      const bool twice = std::count(offsets.begin(), offsets.end(), offsets[i]) > 1;
      if (twice || !chip.lines[offsets[i]].consumer.empty() || ours(name, offsets[i])) return EBUSY;
    }
    int ends[2];
    if (::pipe2(ends, O_CLOEXEC) != 0) return EMFILE;
    asked.fd = ends[0];
    requests_[ends[0]] = {name, offsets, drivers::Descriptor{ends[1]}, 0};
    for (std::size_t i = 0; i < offsets.size(); ++i)
      configure(chip.lines[offsets[i]], asked.config, std::uint64_t{1} << i);
    return 0;
  }

  static void configure(FakeLine& line, const gpio_v2_line_config& config, std::uint64_t bit) {
    line.flags = config.flags;
    bool value = false;
    for (std::uint32_t i = 0; i < config.num_attrs; ++i) {
      if ((config.attrs[i].mask & bit) == 0) continue;
      const auto& attribute = config.attrs[i].attr;
      if (attribute.id == GPIO_V2_LINE_ATTR_ID_FLAGS) line.flags = attribute.flags;
      if (attribute.id == GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES) value = (attribute.values & bit) != 0;
      if (attribute.id == GPIO_V2_LINE_ATTR_ID_DEBOUNCE)
        line.debounce_us = attribute.debounce_period_us;
    }
    line.output = (line.flags & GPIO_V2_LINE_FLAG_OUTPUT) != 0;
    line.active_low = (line.flags & GPIO_V2_LINE_FLAG_ACTIVE_LOW) != 0;
    if (line.output) drive(line, value);
  }

  static void drive(FakeLine& line, bool active) {
    line.high = active != line.active_low;
    line.driven.push_back(line.high);
  }

  int values(int descriptor, unsigned long request, gpio_v2_line_values& out) {
    const Request& held = requests_.at(descriptor);
    Chip& chip = chips_.at(held.chip);
    if (chip.gone) return ENODEV;
    if (chip.refuse_values != 0) return chip.refuse_values;
    for (std::size_t i = 0; i < held.offsets.size(); ++i) {
      const std::uint64_t bit = std::uint64_t{1} << i;
      FakeLine& line = chip.lines[held.offsets[i]];
      if ((out.mask & bit) == 0) continue;
      if (request == GPIO_V2_LINE_SET_VALUES_IOCTL) {
        if (!line.output) return EPERM;
        drive(line, (out.bits & bit) != 0);
      } else if (line.high != line.active_low) {
        out.bits |= bit;
      }
    }
    return 0;
  }

  static void edge(Request& request, const FakeLine& line, std::uint64_t at_ns) {
    const bool active = line.high != line.active_low;
    const std::uint64_t wanted =
        active ? GPIO_V2_LINE_FLAG_EDGE_RISING : GPIO_V2_LINE_FLAG_EDGE_FALLING;
    if ((line.flags & wanted) == 0) return;
    gpio_v2_line_event event{};
    event.id = active ? GPIO_V2_LINE_EVENT_RISING_EDGE : GPIO_V2_LINE_EVENT_FALLING_EDGE;
    event.timestamp_ns = at_ns;
    event.seqno = event.line_seqno = ++request.seqno;
    [[maybe_unused]] const ssize_t put = ::write(request.edges.get(), &event, sizeof event);
  }

  TemporaryFolder folder_;
  std::map<std::string, Chip> chips_;
  std::map<int, std::string> opened_;
  std::map<int, Request> requests_;
  std::string denied_;
  int asked_ = 0;
};

}  // namespace neap::test
