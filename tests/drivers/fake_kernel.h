// A kernel for tests of drivers: attributes as plain text, and chips that answer on I2C by their
// own state. Nothing of it needs the machine.
#pragma once

#include <algorithm>
#include <cstdint>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "drivers/bus/kernel.h"

namespace neap::test {

class FakeChip {
 public:
  virtual ~FakeChip() = default;
  // False: not acknowledged.
  virtual bool written(std::span<const std::uint8_t> bytes) = 0;
  virtual bool read(std::span<std::uint8_t> bytes) = 0;
};

class FakeKernel final : public drivers::Kernel {
 public:
  std::map<std::string, std::string> files;  // path below /sys to text
  std::map<std::string, std::string> links;  // path to what it resolves to
  std::map<std::string, Fault> write_faults;
  std::vector<std::pair<std::string, std::string>> written;
  std::map<std::pair<std::string, int>, std::shared_ptr<FakeChip>> chips;  // (node, address)
  Fault bus_fault = Fault::none;  // what every transfer comes to

  drivers::sysfs::Attribute read(const std::string& path) override {
    const auto file = files.find(path);
    if (file == files.end()) return {std::nullopt, Fault::absent};
    if (file->second.empty()) return {std::nullopt, Fault::no_answer};
    return {file->second, Fault::none};
  }
  Fault write(const std::string& path, std::string_view text) override {
    if (const auto bad = write_faults.find(path); bad != write_faults.end()) return bad->second;
    if (!files.contains(path)) return Fault::absent;
    written.emplace_back(path, text);
    return Fault::none;
  }
  std::vector<std::string> list(const std::string& folder) override {
    std::set<std::string> names;
    for (const auto& [path, text] : files)
      if (path.starts_with(folder + "/"))
        names.insert(
            path.substr(folder.size() + 1, path.find('/', folder.size() + 1) - folder.size() - 1));
    return {names.begin(), names.end()};
  }
  std::optional<std::string> resolve(const std::string& path) override {
    const auto link = links.find(path);
    return link == links.end() ? std::nullopt : std::optional(link->second);
  }
  Fault transfer(const std::string& node, std::uint8_t address, std::span<const std::uint8_t> out,
                 std::span<std::uint8_t> in) override {
    if (bus_fault != Fault::none) return bus_fault;
    const auto chip = chips.find({node, address});
    if (chip == chips.end()) return Fault::no_answer;
    if (!out.empty() && !chip->second->written(out)) return Fault::no_answer;
    if (!in.empty() && !chip->second->read(in)) return Fault::no_answer;
    return Fault::none;
  }
};

// What a driver's whole read says: begin, then finish.
inline drivers::Deliveries whole_read(drivers::Sensor& sensor) {
  drivers::Deliveries out;
  sensor.begin();
  sensor.finish(out);
  return out;
}

}  // namespace neap::test
