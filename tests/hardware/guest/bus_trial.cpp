// A probe on the I2C bus, by the kernel's own driver, and a fan and a lamp on PWM and DAC.
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>

#include "board.h"
#include "daemon.h"
#include "trial.h"

namespace hardware {
namespace {

constexpr const char* kFanAndLamp = R"(
  exhaust_fan:
    driver: pwm_fan
    with: {chip: pwm-sim, channel: 1, inverted: true}
    variable: true
    floor: 25 %
    fallback: 50 %
  light:
    driver: dac
    with: {chip: mcp4725}
    variable: true
)";

std::size_t count(const std::string& text, const std::string& words) {
  std::size_t found = 0;
  for (std::size_t at = text.find(words); at != std::string::npos; at = text.find(words, at + 1))
    ++found;
  return found;
}

bool near(const std::string& number, double wanted) {
  char* end = nullptr;
  const double value = std::strtod(number.c_str(), &end);
  return end != number.c_str() && value > wanted - 0.05 && value < wanted + 0.05;
}

// The probe fails in one way: told, the daemon answers all the while, and it reads again.
void probe_fails(Daemon& daemon, const std::string& how, const std::string& key,
                 const std::string& value) {
  const std::size_t lost = count(daemon.log(), "sensor canopy: ");
  const std::size_t well = count(daemon.log(), "sensor canopy reads again");
  set_chip(key, value);
  double slowest = 0;
  const bool told = wait_for(
      [&] {
        const double asked = now_ms();
        if (daemon.ask("ping").empty()) return false;
        slowest = std::max(slowest, now_ms() - asked);
        return count(daemon.log(), "sensor canopy: ") > lost;
      },
      60);
  check(told, how + " is told");
  check(slowest < 1000, how + " keeps nobody waiting");
  figure(how + ": slowest answer of the daemon " + std::to_string(slowest) + " ms");
  set_chip(key, "");
  check(wait_for([&] { return count(daemon.log(), "sensor canopy reads again") > well; }, 90),
        "after it the probe reads again");
}

// The channel as the kernel's debugfs shows it: "... enabled period: 40000 ns duty: 0 ns ...".
bool pwm_has(const std::string& words) {
  return read_text("/sys/kernel/debug/pwm").find("enabled period: 40000 ns" + words) !=
         std::string::npos;
}
bool fan_duty_is(long ns) { return pwm_has(" duty: " + std::to_string(ns) + " ns"); }

}  // namespace

void sensors_and_fans() {
  Chip relays("relays", {"PUMP"});
  Chip floats("floats", {"TRAY", "RESERVOIR", "LEAK"});
  floats.pull("RESERVOIR", false);
  for (const char* line : {"TRAY", "LEAK"}) floats.pull(line, true);
  Daemon daemon("/run/bus", settings("relays", "floats", kFanAndLamp, kCanopyProbe));
  daemon.start();
  check(daemon.wait_until_it_answers(), "the daemon starts with a probe, a fan and a lamp");
  const auto both_arrived = [&] {  // each of the two is a file, and a round may have read only one
    return near(daemon.reading("canopy.temperature"), 23.5) &&
           near(daemon.reading("canopy.humidity"), 61.25);
  };
  check(wait_for(both_arrived, 30), "the probe's values arrive: 23.5 C, 61.25 %");
  set_chip("temperature", "27.25");
  check(wait_for([&] { return near(daemon.reading("canopy.temperature"), 27.25); }, 60),
        "and follow the chip");
  check(wait_for([] { return pwm_has(""); }, 10), "the fan's channel runs at 25 kHz");
  check(wait_for([] { return read_text("/run/dac") == "0"; }, 10), "the lamp is dark: DAC at 0");

  check(daemon.granted("hold", R"({"output":"exhaust_fan","level":500,"for_s":300})") &&
            wait_for([] { return fan_duty_is(20000); }, 30),
        "half of the fan is half of the period");
  check(daemon.granted("hold", R"({"output":"light","level":1000,"for_s":300})") &&
            wait_for([] { return read_text("/run/dac") == "4095"; }, 30),
        "all of the lamp is all of the DAC's 12 bits");

  write_text("/sys/module/pwm_sim/parameters/fail", "1");
  check(daemon.granted("hold", R"({"output":"exhaust_fan","level":700,"for_s":300})") &&
            wait_for([&] { return daemon.has_alarm("output-fault"); }, 30),
        "a PWM chip that refuses a duty is an alarm");
  write_text("/sys/module/pwm_sim/parameters/fail", "0");
  check(wait_for([] { return fan_duty_is(12000); }, 30), "and is written again when it takes it");

  probe_fails(daemon, "a probe that does not acknowledge", "nack", "0x44");
  probe_fails(daemon, "a probe with a bad CRC", "badcrc", "1");
  probe_fails(daemon, "a bus that hangs", "hang", "0x44");

  daemon.kill_it();
  check(fan_duty_is(12000) && read_text("/run/dac") == "4095",
        "kill -9 leaves PWM and DAC as they were");
  check(outputs_safe(daemon.state_dir()) == 0 && fan_duty_is(0) && read_text("/run/dac") == "0",
        "neap-outputs-safe has fan at full speed and lamp dark");
}

}  // namespace hardware
