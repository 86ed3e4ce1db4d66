// When scans come while a bus hangs: each is due at a whole second and tells WATCHDOG=1 at its end,
// which a supervisor would read; here the trial does, and looks at the clock. Short, and with an
// emulator's own pauses: tests/bench/jitter.py has a minute of it, from more tents, on the machine.
#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <memory>
#include <vector>

#include "board.h"
#include "daemon.h"
#include "trial.h"

namespace hardware {
namespace {

constexpr int kTents = 3;
constexpr double kHungMs = 20'000;

struct WatchedTent {
  explicit WatchedTent(int number)
      : label("watched" + std::to_string(number)),
        chip(label, {"PUMP", "TRAY", "RESERVOIR", "LEAK"}),
        daemon("/run/" + label, settings(label, label, {}, kCanopyProbe)) {
    chip.pull("RESERVOIR", false);
    for (const char* line : {"TRAY", "LEAK"}) chip.pull(line, true);
    const std::string address = "/run/" + label + ".notify";
    notify = open_notify_socket(address);
    daemon.start(address);
  }
  ~WatchedTent() { ::close(notify); }

  std::string label;
  Chip chip;
  Daemon daemon;
  int notify = 0;
  std::vector<double> ends;  // of its scans
};

using Tents = std::vector<std::unique_ptr<WatchedTent>>;

void watch_scans(const Tents& tents, double for_ms) {
  std::vector<pollfd> waits;
  for (const auto& tent : tents) waits.push_back({tent->notify, POLLIN, 0});
  const double end = now_ms() + for_ms;
  while (now_ms() < end) {
    if (::poll(waits.data(), waits.size(), 100) <= 0) continue;
    for (std::size_t i = 0; i < waits.size(); ++i)
      if ((waits[i].revents & POLLIN) != 0 && tells_alive(tents[i]->notify))
        tents[i]->ends.push_back(now_ms());
  }
}

bool has_a_reading(Daemon& daemon) {
  const std::string reading = daemon.reading("canopy.temperature");
  return !reading.empty() && reading != "null";
}

// Looked at without a question to a daemon, as anybody may: the kernel gives up after seconds.
bool bus_hangs() {
  const double asked = now_ms();
  for (const char* chip : {"hwmon0", "hwmon1"})
    read_text(std::string("/sys/class/hwmon/") + chip + "/temp1_input");
  return now_ms() - asked > 1000;
}

// How much later than the most punctual scan of its tent each one ended.
std::vector<double> lateness(const std::vector<double>& ends) {
  std::vector<double> late;
  for (const double at : ends) late.push_back(at - 1000 * std::round((at - ends.front()) / 1000));
  const double least = *std::min_element(late.begin(), late.end());
  for (double& each : late) each -= least;
  return late;
}

}  // namespace

void scans_beside_a_hung_bus() {
  Tents tents;
  bool read = true;
  for (int i = 0; i < kTents; ++i) tents.push_back(std::make_unique<WatchedTent>(i));
  for (const auto& tent : tents)
    read = wait_for([&] { return has_a_reading(tent->daemon); }, 60) && read;
  check(read, std::to_string(kTents) + " tents read a probe on one bus");
  set_chip("hang", "0x44");
  watch_scans(tents, 3000);  // what the questions above brought about is over
  for (const auto& tent : tents) tent->ends.clear();
  watch_scans(tents, kHungMs);
  std::vector<double> late;
  std::size_t fewest = tents.front()->ends.size();
  for (const auto& tent : tents) {
    fewest = std::min(fewest, tent->ends.size());
    if (tent->ends.empty()) continue;
    for (const double each : lateness(tent->ends)) late.push_back(each);
  }
  check(bus_hangs(), "the bus has hung all the while");
  check(fewest >= kHungMs / 1000 - 1, "and each tent was scanned each second");
  set_chip("hang", "");
  if (late.empty()) return;
  std::sort(late.begin(), late.end());
  char text[200];
  std::snprintf(text, sizeof text,
                "scan jitter beside a bus that hangs for 20 s, %d tents, %zu scans: p50 %.1f ms, "
                "worst %.1f ms",
                kTents, late.size(), late[late.size() / 2], late.back());
  figure(text);
}

}  // namespace hardware
