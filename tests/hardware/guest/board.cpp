#include "board.h"

#include <fcntl.h>
#include <linux/gpio.h>
#include <poll.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <map>
#include <sstream>

namespace hardware {
namespace {

// A board that cannot be set up proves nothing: no test goes on without it.
void must(bool done, const std::string& what) {
  if (done) return;
  std::printf("FAIL the board itself: %s\n", what.c_str());
  std::fflush(stdout);
  std::exit(3);
}

constexpr const char* kConfigfs = "/sys/kernel/config/gpio-sim/";
constexpr const char* kChipFile = "/run/chips.conf";

}  // namespace

double now_ms() {
  using namespace std::chrono;
  return duration<double, std::milli>(steady_clock::now().time_since_epoch()).count();
}

bool wait_for(const std::function<bool()>& what, double seconds) {
  const double end = now_ms() + seconds * 1000;
  while (!what()) {
    if (now_ms() > end) return false;
    ::poll(nullptr, 0, 1);
  }
  return true;
}

std::string read_text(const std::string& path) {
  std::ifstream file(path);
  std::stringstream text;
  text << file.rdbuf();
  std::string all = text.str();
  while (!all.empty() && all.back() == '\n') all.pop_back();
  return all;
}

bool write_text(const std::string& path, const std::string& text) {
  const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
  if (file < 0) return false;
  const bool done = ::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size());
  ::close(file);
  return done;
}

Chip::Chip(std::string label, std::vector<std::string> line_names)
    : config_(kConfigfs + label), lines_(std::move(line_names)) {
  const std::string bank = config_ + "/bank";
  must(::mkdir(config_.c_str(), 0755) == 0 && ::mkdir(bank.c_str(), 0755) == 0, "mkdir " + bank);
  must(write_text(bank + "/num_lines", std::to_string(lines_.size())), "num_lines");
  must(write_text(bank + "/label", label), "label");
  for (std::size_t i = 0; i < lines_.size(); ++i) {
    const std::string line = bank + "/line" + std::to_string(i);
    must(::mkdir(line.c_str(), 0755) == 0 && write_text(line + "/name", lines_[i]), line);
  }
  must(write_text(config_ + "/live", "1"), "live " + label);
  name_ = read_text(bank + "/chip_name");
  devices_ = "/sys/devices/platform/" + read_text(config_ + "/dev_name") + "/" + name_;
}

void Chip::remove() {
  if (config_.empty()) return;
  write_text(config_ + "/live", "0");
  for (std::size_t i = 0; i < lines_.size(); ++i)
    ::rmdir((config_ + "/bank/line" + std::to_string(i)).c_str());
  ::rmdir((config_ + "/bank").c_str());
  must(::rmdir(config_.c_str()) == 0, "rmdir " + config_);
  config_.clear();
}

std::uint32_t Chip::offset(const std::string& line) const {
  const auto found = std::find(lines_.begin(), lines_.end(), line);
  must(found != lines_.end(), "no line " + line);
  return static_cast<std::uint32_t>(found - lines_.begin());
}

std::string Chip::folder(const std::string& line) const {
  return devices_ + "/sim_gpio" + std::to_string(offset(line));
}

void Chip::pull(const std::string& line, bool up) const {
  must(write_text(folder(line) + "/pull", up ? "pull-up" : "pull-down"), "pull " + line);
}

bool Chip::level(const std::string& line) const {
  return read_text(folder(line) + "/value") == "1";
}

int Chip::open_level(const std::string& line) const {
  return ::open((folder(line) + "/value").c_str(), O_RDONLY | O_CLOEXEC);
}

std::string Chip::holder(const std::string& line) const {
  const int chip = ::open(("/dev/" + name_).c_str(), O_RDWR | O_CLOEXEC);
  gpio_v2_line_info about{};
  about.offset = offset(line);
  must(::ioctl(chip, GPIO_V2_GET_LINEINFO_IOCTL, &about) == 0, "GET_LINEINFO " + line);
  ::close(chip);
  return about.consumer;
}

int Chip::hold(const std::string& line, const std::string& consumer) const {
  const int chip = ::open(("/dev/" + name_).c_str(), O_RDWR | O_CLOEXEC);
  gpio_v2_line_request request{};
  request.offsets[0] = offset(line);
  request.num_lines = 1;
  request.config.flags = GPIO_V2_LINE_FLAG_OUTPUT;
  consumer.copy(request.consumer, sizeof request.consumer - 1);
  must(::ioctl(chip, GPIO_V2_GET_LINE_IOCTL, &request) == 0, "GET_LINE " + line);
  ::close(chip);
  return request.fd;
}

bool level_of(int descriptor) {
  char text = '?';
  must(::pread(descriptor, &text, 1, 0) == 1, "pread of a level");
  return text == '1';
}

void lines_persist(bool keep) {
  must(write_text("/sys/module/gpio_sim/parameters/persist", keep ? "1" : "0"), "persist");
}

void set_chip(const std::string& key, const std::string& value) {
  static std::map<std::string, std::string> settings{{"temperature", "23.5"},
                                                     {"humidity", "61.25"}};
  if (value.empty())
    settings.erase(key);
  else
    settings[key] = value;
  std::string text;
  for (const auto& [name, is] : settings) text += name + "=" + is + "\n";
  must(write_text(std::string(kChipFile) + ".new", text), "chips.conf");
  must(::rename((std::string(kChipFile) + ".new").c_str(), kChipFile) == 0, "chips.conf");
}

}  // namespace hardware
