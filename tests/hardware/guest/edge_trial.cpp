// From a float's edge to the pump's line, 200 times, on the real daemon: the edge goes through the
// kernel's debounce of 20 ms, the contact's thread, a read on its strand, a scan, and a write on
// the relays' strand.
//
// A float that said empty must say full for 10 s before the pump may run, and a pump may start so
// often an hour: many tents side by side give five edges each.
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <memory>
#include <numeric>

#include "board.h"
#include "daemon.h"
#include "trial.h"

namespace hardware {
namespace {

constexpr int kTents = 40;
constexpr int kEdges = 5;
constexpr double kDebounceMs = 20;

struct Rig {
  explicit Rig(int number)
      : label("rig" + std::to_string(number)),
        chip(label, {"PUMP", "TRAY", "RESERVOIR", "LEAK"}),
        daemon("/run/" + label, settings(label, label)) {
    chip.pull("RESERVOIR", false);
    chip.pull("TRAY", true);
    chip.pull("LEAK", true);
    pump = chip.open_level("PUMP");
    daemon.start();
  }
  ~Rig() { ::close(pump); }

  bool run_pump() {
    return wait_for(
        [this] {
          if (level_of(pump)) return true;
          daemon.hold_pump(60);
          return wait_for([this] { return level_of(pump); }, 1);
        },
        60);
  }
  // Milliseconds from the edge to the line, which is looked at without a pause.
  double edge() {
    const double began = now_ms();
    chip.pull("RESERVOIR", true);
    double now = now_ms();
    while (level_of(pump) && now - began < 5000) now = now_ms();
    daemon.granted("release", R"({"output":"pump"})");  // or it would end some later edge's run
    chip.pull("RESERVOIR", false);
    return now - began;
  }

  std::string label;
  Chip chip;
  Daemon daemon;
  int pump = 0;
};

}  // namespace

void two_hundred_edges() {
  std::vector<std::unique_ptr<Rig>> rigs;
  bool all = true;
  for (int i = 0; i < kTents; ++i) {
    rigs.push_back(std::make_unique<Rig>(i));
    all = rigs.back()->daemon.wait_until_it_answers() && all;
  }
  check(all, std::to_string(kTents) + " tents start side by side");
  std::vector<double> taken;
  for (int round = 0; round < kEdges; ++round)
    for (const auto& rig : rigs)
      if (rig->run_pump()) taken.push_back(rig->edge());
  check(taken.size() == kTents * kEdges, "each pump ran for each of its edges");
  if (taken.empty()) return;
  std::sort(taken.begin(), taken.end());
  char text[160];
  std::snprintf(text, sizeof text,
                "float edge to pump line, %zu edges, %g ms of it debounce: least %.1f ms, p50 %.1f "
                "ms, p99 %.1f "
                "ms, worst %.1f ms",
                taken.size(), kDebounceMs, taken.front(), taken[taken.size() / 2],
                taken[taken.size() * 99 / 100 - 1], taken.back());
  figure(text);
  check(taken.back() < 5000, "every edge stopped its pump");
}

}  // namespace hardware
