// The simulated board as a test sees it: from the kernel's side. Chips of gpio-sim come and go
// through configfs, the wires of their inputs are pulled, the levels of their outputs read; chip
// models on the I2C bus take their values and faults from a file (chips/main.cpp).
#pragma once

#include <cstdint>
#include <functional>
#include <initializer_list>
#include <optional>
#include <string>
#include <vector>

namespace hardware {

// Monotonic milliseconds, for waiting and for figures.
double now_ms();
// Looks each millisecond until `what` is true; false when `seconds` have passed.
bool wait_for(const std::function<bool()>& what, double seconds);

std::string read_text(const std::string& path);  // without the newline at its end; empty: no file
bool write_text(const std::string& path, const std::string& text);

// One chip of gpio-sim. It is there as long as the object, or until remove().
class Chip {
 public:
  Chip(std::string label, std::vector<std::string> line_names);
  ~Chip() { remove(); }
  Chip(const Chip&) = delete;
  Chip& operator=(const Chip&) = delete;

  void remove();
  // The wire of an input: up or down; edges go to whoever asked for them.
  void pull(const std::string& line, bool up) const;
  // The level of the wire, whoever drives it.
  bool level(const std::string& line) const;
  // A descriptor for it that is read again and again, for figures.
  int open_level(const std::string& line) const;
  // Who holds the line, as GET_LINEINFO has it; empty: nobody.
  std::string holder(const std::string& line) const;
  // The line as another program's own output; let go of when the descriptor is closed.
  int hold(const std::string& line, const std::string& consumer) const;

 private:
  std::string folder(const std::string& line) const;
  std::uint32_t offset(const std::string& line) const;

  std::string config_;
  std::string name_;     // gpiochip3
  std::string devices_;  // where its lines are
  std::vector<std::string> lines_;
};

bool level_of(int descriptor);
// What a line does when its owner dies: keeps its level (as the kernel of Raspberry Pi OS has it),
// or falls to its pull (as Debian's).
void lines_persist(bool keep);

// A value or fault of the chip models; empty: as if it had never been set.
void set_chip(const std::string& key, const std::string& value);

}  // namespace hardware
