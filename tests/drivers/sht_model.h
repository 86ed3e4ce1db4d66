// A model of SHT3x and SHT4x on I2C: commands, words, CRCs, and what happens to them.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "tests/drivers/fake_kernel.h"

namespace neap::test {

class ShtModel final : public FakeChip {
 public:
  explicit ShtModel(std::vector<std::uint8_t> measure) : measure_(std::move(measure)) {}

  // What the next measurement says, CRCs included.
  std::array<std::uint8_t, 6> words{};
  std::vector<std::uint8_t> last_command;

  bool written(std::span<const std::uint8_t> bytes) override {
    last_command.assign(bytes.begin(), bytes.end());
    ready_ = last_command == measure_;
    return true;
  }
  bool read(std::span<std::uint8_t> bytes) override {
    if (!ready_ || bytes.size() != words.size()) return false;
    std::copy(words.begin(), words.end(), bytes.begin());
    ready_ = false;
    return true;
  }

 private:
  std::vector<std::uint8_t> measure_;
  bool ready_ = false;
};

}  // namespace neap::test
