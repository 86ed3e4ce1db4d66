// The pulse of the pump's dead-man circuit, as the circuit sees it: edges on a line while neapd
// lets the pump run, and none from a process that stands still, was killed, or has stopped.
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>

#include "board.h"
#include "daemon.h"
#include "trial.h"

namespace hardware {
namespace {

constexpr double kPeriodMs = 200;  // the settings' default

struct Edges {
  int count = 0;
  double longest_gap_ms = 0;  // between two of them
};

struct PulsedTent {
  PulsedTent() : daemon("/run/pulsed", with_pulse(settings("relays", "floats"))) {
    floats.pull("RESERVOIR", false);
    for (const char* line : {"TRAY", "LEAK"}) floats.pull(line, true);
    pulse = relays.open_level("PULSE");
  }
  ~PulsedTent() { ::close(pulse); }

  static std::string with_pulse(std::string text) {
    const std::string pump = "line: PUMP, active: high}";
    return text.insert(text.find(pump) + pump.size(),
                       ", enable_pulse: {chip: relays, line: PULSE}");
  }
  bool run_pump() {
    return wait_for(
        [this] {
          daemon.hold_pump(60);
          return relays.level("PUMP");
        },
        40);
  }
  // Looked at each millisecond.
  Edges watch(double for_ms) const {
    Edges seen;
    bool level = level_of(pulse);
    const double began = now_ms();
    double last = 0;
    wait_for(
        [&] {
          const bool now = level_of(pulse);
          if (now == level) return false;
          level = now;
          const double at = now_ms();
          if (seen.count++ > 0) seen.longest_gap_ms = std::max(seen.longest_gap_ms, at - last);
          last = at;
          return at - began > for_ms;
        },
        for_ms / 1000);
    return seen;
  }
  bool is_dead() const { return watch(3000).count == 0; }

  Chip relays{"relays", {"PUMP", "PULSE"}};
  Chip floats{"floats", {"TRAY", "RESERVOIR", "LEAK"}};
  Daemon daemon;
  int pulse = 0;
};

}  // namespace

void enable_pulse() {
  PulsedTent tent;
  tent.daemon.start();
  check(tent.daemon.wait_until_it_answers() && tent.relays.holder("PULSE") == "neap",
        "the daemon starts with a line for a dead-man circuit");
  check(tent.is_dead(), "with the pump at rest the line stands still");
  check(tent.run_pump(), "the pump runs");
  const Edges alive = tent.watch(4000);
  char text[120];
  std::snprintf(text, sizeof text, "enable pulse: %d edges in 4 s, longest gap %.0f ms",
                alive.count, alive.longest_gap_ms);
  figure(text);
  // The circuit waits for three periods; half of the edges of a busy emulator are enough for it.
  check(alive.count >= 20 && alive.longest_gap_ms < 3 * kPeriodMs, "and edges go out with it");

  const std::string probed =
      tent.daemon.by_hand({"probe", tent.daemon.folder() + "/settings.yaml"});
  std::printf("%s\n", probed.c_str());
  check(probed.find("PULSE") != std::string::npos && probed.find("missing") == std::string::npos,
        "`neap probe` finds the lines of the settings");

  tent.daemon.send(SIGSTOP);
  tent.watch(2 * kPeriodMs);
  check(tent.is_dead() && tent.relays.level("PUMP"),
        "kill -STOP: no edge after two periods, whatever the pump's own line says");
  tent.watch(2000);  // longer than a lease and a second, in all: a scan that comes sooner renews it
  tent.daemon.send(SIGCONT);
  check(wait_for([&] { return !tent.relays.level("PUMP"); }, 5), "woken up, it stops the pump");

  lines_persist(true);
  check(tent.run_pump() && tent.watch(2000).count > 0, "the pump runs again, with edges");
  tent.daemon.kill_it();
  check(tent.is_dead() && tent.relays.level("PUMP"),
        "kill -9 leaves the pump's line high, and no edge behind it");
  check(outputs_safe(tent.daemon.state_dir()) == 0 && tent.is_dead(),
        "neap-outputs-safe lets the line stand");
  lines_persist(false);

  tent.daemon.start();
  check(tent.daemon.wait_until_it_answers() && tent.run_pump() && tent.watch(2000).count > 0,
        "started anew, the pump runs with edges");
  tent.daemon.send(SIGTERM);
  check(tent.daemon.wait_for_its_end() == 0 && tent.is_dead(), "and they end with the process");
}

}  // namespace hardware
