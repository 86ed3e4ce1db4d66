#include "trial.h"

#include <fcntl.h>
#include <signal.h>
#include <unistd.h>

#include <cstdio>
#include <cstring>

#include "board.h"
#include "daemon.h"

namespace hardware {
namespace {

int passed = 0;
int failed = 0;

const std::vector<std::string> kRelayLines{"PUMP", "LIGHT", "AIR", "SPARE"};
const std::vector<std::string> kFloatLines{"TRAY", "RESERVOIR", "LEAK", "SPARE"};

constexpr const char* kLightAndAir = R"(
  light: {driver: gpio_relay, with: {chip: relays, line: LIGHT, active: low}}
  air_pump: {driver: gpio_relay, with: {chip: relays, line: AIR, active: high}}
)";

bool log_has(const Daemon& daemon, const std::string& words, double seconds = 20) {
  return wait_for([&] { return daemon.log().find(words) != std::string::npos; }, seconds);
}

// A board, its wires at rest (water in the reservoir, all else dry) and a daemon on it.
struct Tent {
  explicit Tent(const std::string& folder)
      : daemon(folder, settings("relays", "floats", kLightAndAir)) {
    floats.pull("RESERVOIR", false);  // set: the contacts are to ground
    for (const char* line : {"TRAY", "LEAK"}) floats.pull(line, true);
  }
  bool pump() const { return relays.level("PUMP"); }
  bool run_pump(double seconds = 40) {
    return wait_for(
        [&] {
          daemon.hold_pump(60);
          return pump();
        },
        seconds);
  }
  bool pump_stops(double seconds) const {
    return wait_for([this] { return !pump(); }, seconds);
  }

  Chip relays{"relays", kRelayLines};
  Chip floats{"floats", kFloatLines};
  Daemon daemon;
};

void starts_safe(Tent& tent) {
  tent.relays.pull("LIGHT", false);  // an active-low relay that would be on before neapd has it
  tent.daemon.start();
  check(tent.daemon.wait_until_it_answers(), "the daemon starts on GPIO lines and answers");
  check(tent.relays.holder("PUMP") == "neap" && tent.relays.holder("SPARE").empty(),
        "the kernel says that neap holds the lines of the settings, and no other");
  check(!tent.pump() && tent.relays.level("LIGHT") && tent.relays.level("AIR"),
        "pump stopped, light (active low) dark, air pump running");
  check(tent.daemon.by_hand({"--json", "status"}).find("\"verdict\"") != std::string::npos,
        "`neap status` shows it to a person");
  check(tent.run_pump(), "a held pump runs: its line is high");
}

void floats_stop_the_pump(Tent& tent) {
  tent.floats.pull("LEAK", false);
  check(tent.pump_stops(2), "a wet leak probe stops the pump");
  check(wait_for(
            [&] {
              return tent.daemon.ask("why", R"({"output":"pump"})").find("\"leak\"") !=
                     std::string::npos;
            },
            10),
        "and latches it");
  tent.floats.pull("LEAK", true);
  check(wait_for([&] { return tent.daemon.granted("reset", R"({"latch":"leak"})"); }, 30),
        "the latch may be reset once the probe has been dry");
  check(tent.run_pump(), "and the pump runs again");
}

void dies_and_is_made_safe(Tent& tent) {
  for (const bool keeps : {false, true}) {
    const std::string kernel = keeps ? "that keeps a dead owner's level" : "that drops it";
    lines_persist(keeps);
    check(tent.run_pump(), "the pump runs, on a kernel " + kernel);
    tent.daemon.kill_it();
    check(tent.pump() == keeps, "kill -9 leaves its line " + std::string(keeps ? "high" : "low"));
    check(outputs_safe(tent.daemon.state_dir()) == 0, "neap-outputs-safe proves every output");
    check(!tent.pump() && (!keeps || (tent.relays.level("LIGHT") && tent.relays.level("AIR"))),
          "the pump's line is low afterwards, light dark, air pump running");
    tent.daemon.start();
    check(tent.daemon.wait_until_it_answers(), "the daemon starts again");
  }
  check(tent.run_pump(), "the pump runs once more");
  tent.daemon.kill_it();
  check(tent.pump(), "killed, without the helper: the line is still high");
  tent.daemon.write_settings("neap: 1\nruined");
  tent.daemon.start();
  check(tent.pump_stops(10), "a start on ruined settings drives it low from the manifest");
  tent.daemon.kill_it();
  tent.daemon.write_settings(settings("relays", "floats", kLightAndAir));
  lines_persist(false);
}

void names_the_holder(Tent& tent) {
  const int other = tent.relays.hold("LIGHT", "other-program");
  tent.daemon.start();
  check(log_has(tent.daemon, "is held by \"other-program\""),
        "a line that another program holds is told with its holder");
  check(wait_for([&] { return tent.relays.holder("PUMP") == "neap"; }, 10) && !tent.pump(),
        "and keeps neap from no other line");
  ::close(other);
  check(log_has(tent.daemon, "output light obeys again"), "it is had as soon as it is free");
}

}  // namespace

void check(bool holds, const std::string& what) {
  ++(holds ? passed : failed);
  std::printf("%s %s\n", holds ? "ok  " : "FAIL", what.c_str());
  if (!holds) std::printf("%s\n", Daemon::last_words().c_str());
  std::fflush(stdout);
}

void figure(const std::string& text) {
  std::printf("figure %s\n", text.c_str());
  std::fflush(stdout);
}

std::string settings(const std::string& relays, const std::string& floats,
                     const std::string& more_outputs, const std::string& more_sensors) {
  std::string contacts;
  for (const auto& [line, point] :
       {std::pair{"TRAY", "tray.full"}, {"RESERVOIR", "reservoir.low"}, {"LEAK", "leak.floor"}})
    contacts += std::string("  ") + point[0] +
                ": {driver: gpio_contact, every: 1 s, with: {chip: " + floats + ", line: " + line +
                ", active: low, bias: as_is}, points: {contact: " + point + "}}\n";
  return R"(neap: 1
name: guest
mode: control
time_zone: Etc/UTC
tent:
  volume: 1 m3
table:
  drain_path: through_pump
  tray_capacity: 40 L
  flood_volume: 20 L
  reservoir_capacity: 60 L
  reservoir_minimum: 10 L
  pump_flow: 600 L/h
  fill_limit: 6 min
  soak_limit: 10 min
  drain_limit: 10 min
  min_gap: 10 min
  pump_budget: {per_flood: 20 min, per_hour: 50 min, per_day: 5 h}
programme:
  start: 2026-01-01
  stages:
    - {name: fallow, fallow: true}
outputs:
  pump: {driver: gpio_relay, with: {chip: )" +
         relays + ", line: PUMP, active: high}}\n" + more_outputs + "sensors:\n" + contacts +
         more_sensors + "end: true\n";
}

void relays_and_floats() {
  Tent tent("/run/tent");
  starts_safe(tent);
  floats_stop_the_pump(tent);
  dies_and_is_made_safe(tent);
  names_the_holder(tent);
}

void chips_go_and_come_back() {
  Tent tent("/run/chips");  // three kills put the other tent into safe mode, as they should
  tent.daemon.start();
  check(tent.daemon.wait_until_it_answers() && tent.run_pump(), "a pump runs on a fresh board");
  tent.floats.remove();
  check(tent.pump_stops(3), "the chip of the floats goes: the pump stops");
  check(log_has(tent.daemon, "GPIO chip floats is not there"), "the chip is named in the log");
  check(tent.daemon.reading("tray.full") == "null", "the float has no reading");
  check(!tent.daemon.ask("ping").empty(), "the daemon runs on");
  {
    Chip again("floats", kFloatLines);
    again.pull("RESERVOIR", false);
    for (const char* line : {"TRAY", "LEAK"}) again.pull(line, true);
    check(wait_for([&] { return tent.daemon.reading("tray.full") != "null"; }, 60),
          "it comes back under another number and is read again");
    check(tent.run_pump(), "and the pump may run");
    check(tent.daemon.granted("release", R"({"output":"pump"})") && tent.pump_stops(5),
          "and is released again");
    tent.relays.remove();
    check(wait_for([&] { return tent.daemon.has_alarm("output-fault"); }, 30),
          "the chip of the relays goes: an alarm stands");
    check(!tent.daemon.ask("ping").empty(), "and the daemon runs on");
    Chip relays("relays", kRelayLines);
    check(log_has(tent.daemon, "output light obeys again", 30) && !relays.level("PUMP") &&
              relays.level("AIR"),
          "it comes back with every line as it should be");
    tent.daemon.send(SIGTERM);
    check(tent.daemon.wait_for_its_end() == 0 && !relays.level("PUMP"), "a stop is clean and safe");
  }
}

struct Trial {
  const char* name;
  void (*run)();
};
constexpr Trial kTrials[] = {
    {"relays", relays_and_floats},       {"chips", chips_go_and_come_back},
    {"bus", sensors_and_fans},           {"pulse", enable_pulse},
    {"jitter", scans_beside_a_hung_bus}, {"edges", two_hundred_edges},
};

// The trials in the words of `asked`; empty: all but the watchdog.
int run(const std::string& asked) {
  if (asked == "watchdog") {
    watchdog();
    return 1;  // it did not bite
  }
  for (const Trial& trial : kTrials) {
    if (!asked.empty() && asked.find(trial.name) == std::string::npos) continue;
    const double began = now_ms();
    trial.run();
    figure(std::string(trial.name) + " took " + std::to_string((now_ms() - began) / 1000) + " s");
  }
  figure(std::to_string(passed) + " passed, " + std::to_string(failed) + " failed");
  return failed == 0 ? 0 : 1;
}

}  // namespace hardware

int main(int argc, char** argv) { return hardware::run(argc > 1 ? argv[1] : ""); }
