// Any text in the files of a kernel sensor: a finite number that the text spells, or a fault.
#include <unistd.h>

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>

#include "drivers/bus/sysfs.h"
#include "drivers/sensors/hwmon.h"

namespace {

using namespace neap::drivers;
namespace fs = std::filesystem;

void must(bool holds) {
  if (!holds) std::abort();
}

// A tree of one chip, as the kernel would show it.
class Chip {
 public:
  Chip() {
    fs::create_directories(folder_);
    write("name", "sht4x\n");
    Params params;
    params.set("chip", "sht4x");
    context_.sysfs_root = root_.string();
    sensor_ = kHwmon.make(params, context_);
  }
  ~Chip() { fs::remove_all(root_); }
  Chip(const Chip&) = delete;
  Chip& operator=(const Chip&) = delete;

  void write(const char* attribute, std::string_view text) const {
    std::ofstream(folder_ / attribute, std::ios::binary) << text;
  }
  Sensor& sensor() { return *sensor_; }

 private:
  fs::path root_ = fs::temp_directory_path() / ("neap-fuzz-" + std::to_string(::getpid()));
  fs::path folder_ = root_ / "class" / "hwmon" / "hwmon0";
  Context context_;
  std::unique_ptr<Sensor> sensor_;
};

// What the kernel prints of a number: an optional minus, digits, at most one point.
bool is_plain_decimal(std::string_view text) {
  if (text.ends_with('\n')) text.remove_suffix(1);
  if (text.starts_with('-')) text.remove_prefix(1);
  bool digit = false;
  int points = 0;
  for (const char c : text) {
    if (c == '.')
      ++points;
    else if (c >= '0' && c <= '9')
      digit = true;
    else
      return false;
  }
  return digit && points <= 1;
}

void judge(const Delivery& delivery, std::string_view text) {
  must(delivery.value.has_value() == (delivery.fault == neap::Fault::none));
  if (!delivery.value) return;
  must(std::isfinite(*delivery.value) && text.size() <= 129 && is_plain_decimal(text));
  must(*delivery.value == std::strtod(std::string(text).c_str(), nullptr) / 1000);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static Chip chip;
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const std::size_t bar = text.find('|');
  const std::string_view temperature = text.substr(0, bar);
  const std::string_view humidity =
      bar == std::string_view::npos ? std::string_view{} : text.substr(bar + 1);
  chip.write("temp1_input", temperature);
  chip.write("humidity1_input", humidity);
  must(chip.sensor().begin().fault == neap::Fault::none);
  Deliveries deliveries;
  chip.sensor().finish(deliveries);
  must(deliveries.size() == 2);
  judge(deliveries[0], temperature);
  judge(deliveries[1], humidity);
  return 0;
}
