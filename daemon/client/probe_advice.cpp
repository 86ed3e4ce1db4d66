// Each rule of the advice, once: what was found, what it means for water, what to write where. Boot
// lines are those of the boards' own documents (config/wiring.md); none was tried on a board.
#include <algorithm>
#include <charconv>

#include "daemon/client/probe.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using drivers::GpioChip;
using drivers::Survey;

constexpr const char* kConfigTxt = " in /boot/firmware/config.txt, then start the board anew";

struct Advising {
  const Survey& survey;
  const Asker& asker;
  std::vector<Advice> told;

  void good(std::string text) { told.push_back({Advice::Weight::good, std::move(text), {}}); }
  void note(std::string text, std::string remedy) {
    told.push_back({Advice::Weight::note, std::move(text), std::move(remedy)});
  }
  void warn(std::string text, std::string remedy) {
    told.push_back({Advice::Weight::warning, std::move(text), std::move(remedy)});
  }
};

bool is_pi(const Survey& survey) { return survey.board.find("Raspberry Pi") != std::string::npos; }

// Chips behind I2C or SPI: their outputs keep their level as long as they have power.
bool is_expander(const std::string& label) {
  constexpr const char* kFamilies[] = {"pca95", "pcal",  "tca95", "pcf857",
                                       "mcp23", "max73", "xra12"};
  return std::any_of(std::begin(kFamilies), std::end(kFamilies),
                     [&](const char* family) { return label.find(family) != std::string::npos; });
}

std::string join_group(const Advising& in, const std::string& group) {
  return "sudo usermod -aG " + group + " " + (in.asker.user.empty() ? "USER" : in.asker.user) +
         ", then log in anew";
}

void advise_gpio(Advising& in) {
  if (in.survey.gpio_chips.empty())
    return in.note(
        "there is no GPIO chip: no relay, float or probe can hang on this machine's pins",
        "on a board, see that its kernel has CONFIG_GPIO_CDEV and /dev is mounted");
  for (const GpioChip& chip : in.survey.gpio_chips) {
    if (!chip.error.empty())
      in.warn(chip.path + " cannot be read: " + chip.error,
              chip.error == "Permission denied"
                  ? "ls -l " + chip.path + " shows its group: " + join_group(in, "gpio")
                  : "the kernel must be 5.10 or newer; see dmesg");
    else if (is_expander(chip.label))
      in.warn("outputs of " + chip.label +
                  " keep their level when neapd dies, and when the board "
                  "starts anew",
              "put no pump on it without a second contact; neapd's unit (deploy/boot.md) runs "
              "neap-outputs-safe after each crash");
  }
}

void advise_persistence(Advising& in) {
  if (in.survey.gpio_persists == true)
    return in.warn(
        "this kernel leaves GPIO outputs at their last level when a program dies: a "
        "killed neapd would leave the pump running",
        std::string("write dtparam=strict_gpiod") + kConfigTxt +
            ", but only where each relay rests at its pin's pull or has its own resistor: see "
            "config/wiring.md; neap-outputs-safe, which neapd's unit runs (deploy/boot.md), covers "
            "a "
            "crash, not a hung board");
  if (in.survey.gpio_persists == false)
    return in.good("GPIO outputs fall back to their pull when a program dies");
  if (is_pi(in.survey))
    in.note("whether GPIO outputs keep their level when a program dies is not told by this kernel",
            "try it with a lamp on the pin: kill -9 the program that drives it");
}

void advise_watchdog(Advising& in) {
  if (in.survey.watchdogs.empty())
    return in.warn("there is no watchdog: a hung board stays hung, its outputs as they were",
                   is_pi(in.survey)
                       ? std::string("write dtparam=watchdog=on") + kConfigTxt
                       : "load the board's watchdog driver, or softdog, at each start");
  const auto& dog = in.survey.watchdogs.front();
  const std::string limit = dog.timeout_s ? ", " + std::to_string(*dog.timeout_s) + " s" : "";
  const std::string name =
      "watchdog " + dog.path + " (" + words::printable(dog.identity) + limit + ")";
  if (dog.armed == false)
    in.warn(name + " is not armed: nobody feeds it, and a hung board stays hung",
            "write RuntimeWatchdogSec=15 in /etc/systemd/system.conf, then start the board anew");
  else
    in.good(name);
  if (is_pi(in.survey))
    in.note("this board's watchdog counts to just under 16 s",
            "keep RuntimeWatchdogSec in /etc/systemd/system.conf at 15 or less");
}

void advise_buses(Advising& in) {
  if (in.survey.i2c_buses.empty())
    in.note("there is no /dev/i2c-*: no I2C sensor can be read",
            is_pi(in.survey) ? std::string("write dtparam=i2c_arm=on") + kConfigTxt +
                                   ", and i2c-dev into /etc/modules"
                             : "modprobe i2c-dev; enable the bus in the board's device tree");
  for (const auto& bus : in.survey.i2c_buses)
    if (!bus.usable) in.warn(bus.path + " may not be opened by this user", join_group(in, "i2c"));
  if (in.survey.one_wire.empty())
    in.note("no 1-Wire sensor is seen",
            is_pi(in.survey) ? std::string("for DS18B20 write dtoverlay=w1-gpio,gpiopin=4") +
                                   kConfigTxt + "; the wire needs 4.7 kohm to 3.3 V"
                             : "for DS18B20 enable a 1-Wire master in the device tree");
  if (in.survey.pwm_chips.empty())
    in.note(
        "there is no PWM chip: a fan's speed cannot be set by a pin",
        is_pi(in.survey)
            ? std::string("write dtoverlay=pwm-2chan,pin=12,func=4,pin2=13,func2=4") + kConfigTxt
            : "enable a PWM of the board in its device tree");
}

void advise_board(Advising& in) {
  if (in.survey.undervoltage == true)
    in.warn("the board's supply has been too low",
            "a stronger supply, a shorter cable, and a supply of its own for pump and relays");
  else if (in.survey.undervoltage == false)
    in.good("the board's supply is sound");
  const auto synced =
      in.survey.time_synchronised ? in.survey.time_synchronised : in.asker.clock_synchronised;
  if (synced == true) return in.good("the clock is synchronised");
  in.warn(synced ? "the clock is not synchronised: floods keep to a clock that may be wrong"
                 : "whether the clock is synchronised is not known",
          "systemctl enable --now systemd-timesyncd; without a network fit a clock chip "
          "(dtoverlay=i2c-rtc,ds3231)");
}

void advise_user(Advising& in) {
  if (in.asker.root)
    in.note("this is root: what neapd's own user may open is not seen",
            "run neap probe as that user: sudo -u neap neap probe");
}

// --- parts of the settings ----------------------------------------------------------------------

bool has_chip(const std::vector<drivers::NamedDevice>& all, const std::string& name,
              const std::string& device) {
  return std::any_of(all.begin(), all.end(), [&](const drivers::NamedDevice& one) {
    return one.name == name && (device.empty() || one.device == device);
  });
}

std::string names_of(const std::vector<drivers::NamedDevice>& all) {
  std::string names;
  for (const auto& one : all)
    names +=
        (names.empty() ? "" : ", ") + one.name + (one.device.empty() ? "" : " at " + one.device);
  return names.empty() ? std::string("none is there") : "there are: " + names;
}

struct Looking {
  const Survey& survey;
  const std::function<bool(const std::string&)>& exists;
  std::vector<NamedPart> found;

  void part(const std::string& entry, const std::string& driver, const drivers::Params& params) {
    if (driver == "level_file") return file(entry, params.text("path"));
    if (driver == "hwmon") return chip(entry, "hwmon", survey.hwmon, params);
    if (driver.starts_with("gpio_") || driver == "tachometer")
      return line(entry, params.text("chip"), params.text("line"));
    if (driver == "one_wire") return wire(entry, params);
    if (driver.starts_with("pwm_")) return pwm(entry, params.text("chip"));
    if (!params.text("bus").empty()) return bus(entry, params.text("bus"));
    const bool by_iio = driver == "iio" || driver == "dac" || driver == "leak_rope" ||
                        driver.starts_with("analog_");
    if (by_iio && !params.text("chip").empty()) chip(entry, "iio", survey.iio, params);
  }
  void file(const std::string& entry, const std::string& path) {
    found.push_back({entry, "file " + path, exists(path),
                     "ls " + std::string(path.starts_with('/') ? "" : "/sys/") + path +
                         "; see that its driver is loaded"});
  }
  void pwm(const std::string& entry, const std::string& device) {
    const bool there =
        std::any_of(survey.pwm_chips.begin(), survey.pwm_chips.end(),
                    [&](const drivers::NamedDevice& one) { return one.device == device; });
    found.push_back({entry, "PWM chip at " + device, there, names_of(survey.pwm_chips)});
  }
  // By the line's name or its number, on the chip of that label.
  void line(const std::string& entry, const std::string& label, const std::string& wanted) {
    NamedPart part{entry, "line " + wanted + " of " + label, false, {}};
    std::string labels;
    for (const GpioChip& chip : survey.gpio_chips) {
      labels += (labels.empty() ? "there are: " : ", ") + chip.label;
      if (chip.label != label) continue;
      part.remedy = label + " has no line of that name or number; neap probe --json lists them";
      for (const drivers::GpioLine& one : chip.lines) {
        if (one.name != wanted && std::to_string(one.offset) != wanted) continue;
        const bool free = !one.held || one.consumer.starts_with("neap");
        part.present = free;
        part.remedy = free ? ""
                           : "it is held by " +
                                 (one.consumer.empty() ? "the kernel" : one.consumer) +
                                 ": free it, or take another line";
      }
    }
    if (!part.present && part.remedy.empty())
      part.remedy = labels.empty() ? "no GPIO chip can be read" : labels;
    found.push_back(std::move(part));
  }
  void chip(const std::string& entry, const std::string& kind,
            const std::vector<drivers::NamedDevice>& all, const drivers::Params& params) {
    const std::string name = params.text("chip");
    const std::string device = params.text("device");
    bool there = false;
    for (const std::string& known : kind == "iio" ? drivers::iio_names(name) : std::vector{name})
      there = there || has_chip(all, known, device);
    found.push_back({entry, kind + " chip " + name + (device.empty() ? "" : " at " + device), there,
                     names_of(all)});
  }
  void wire(const std::string& entry, const drivers::Params& params) {
    for (const char* key : {"id", "id_2", "id_3", "id_4"})
      if (const std::string id = params.text(key); !id.empty())
        found.push_back({entry, "1-Wire sensor " + id, has_chip(survey.one_wire, id, ""),
                         names_of(survey.one_wire)});
  }
  // A bus by its number, or by the name of its adapter; by a piece of its path it is the driver's
  // to find.
  void bus(const std::string& entry, const std::string& wanted) {
    if (wanted.find_first_not_of("0123456789") != std::string::npos) return adapter(entry, wanted);
    const std::string node = "i2c-" + wanted;
    const bool there =
        std::any_of(survey.i2c_buses.begin(), survey.i2c_buses.end(),
                    [&](const drivers::NamedDevice& one) { return one.device == node; });
    found.push_back({entry, "I2C bus /dev/" + node, there, names_of(survey.i2c_buses)});
  }
  void adapter(const std::string& entry, const std::string& wanted) {
    const auto named =
        std::count_if(survey.i2c_buses.begin(), survey.i2c_buses.end(),
                      [&](const drivers::NamedDevice& one) { return one.name == wanted; });
    const bool is_path = wanted.find(' ') == std::string::npos && named == 0;
    if (is_path) return;
    found.push_back({entry, "I2C bus of the adapter " + wanted, named == 1,
                     named > 1
                         ? "several adapters have that name: name the bus by its number or by "
                           "a component of its path"
                         : names_of(survey.i2c_buses)});
  }
};

// The header's chip of each Raspberry Pi; GPIO 0 to 8 are pulled up from power-on, 9 to 27 down
// (BCM2711 and RP1 peripherals documents, config/wiring.md).
constexpr int kHighestPulledUp = 8;
constexpr int kHighestOfHeader = 27;

std::optional<int> header_pin(const drivers::Params& params) {
  const std::string chip = params.text("chip");
  if (chip != "pinctrl-bcm2711" && chip != "pinctrl-bcm2835" && chip != "pinctrl-rp1")
    return std::nullopt;
  std::string number = params.text("line");
  if (number.starts_with("GPIO")) number.erase(0, 4);
  int pin = 0;
  const auto [end, error] = std::from_chars(number.data(), number.data() + number.size(), pin);
  if (error != std::errc{} || end != number.data() + number.size() || pin > kHighestOfHeader)
    return std::nullopt;
  return pin;
}

}  // namespace

std::vector<Advice> advise_rest(const settings::Loaded& loaded) {
  std::vector<Advice> told;
  for (const auto& setup : loaded.hardware.outputs) {
    const auto& plan = loaded.plan.outputs[setup.output];
    const auto pin = setup.driver == "gpio_relay" ? header_pin(setup.params) : std::nullopt;
    if (!pin || !plan) continue;
    const bool rests_high = *pin <= kHighestPulledUp;
    const bool active_high = setup.params.text("active") == "high";
    const bool rests_running = rests_high == active_high;
    if (rests_running == (plan->safe == kRunning)) continue;
    const std::string entry = "outputs." + std::string(info(setup.output).name);
    told.push_back({Advice::Weight::warning,
                    entry + ": GPIO" + std::to_string(*pin) + " is pulled " +
                        (rests_high ? "up" : "down") + " while nothing drives it, which is " +
                        (rests_running ? "running" : "stopped") + ", not the safe level",
                    std::string("take a pin that rests the other way, or fit 10 kohm to ") +
                        (rests_high ? "ground" : "3.3 V") + ": see config/wiring.md"});
  }
  return told;
}

std::vector<Advice> advise(const Survey& survey, const Asker& asker) {
  Advising in{survey, asker, {}};
  advise_gpio(in);
  advise_persistence(in);
  advise_watchdog(in);
  advise_buses(in);
  advise_board(in);
  advise_user(in);
  return std::move(in.told);
}

std::vector<NamedPart> look_for(const Survey& survey, const settings::Loaded& loaded,
                                const std::function<bool(const std::string&)>& exists) {
  Looking in{survey, exists, {}};
  for (const auto& setup : loaded.hardware.outputs) {
    const std::string entry = "outputs." + std::string(info(setup.output).name);
    in.part(entry, setup.driver, setup.params);
    if (setup.enable_pulse)
      in.line(entry + ".enable_pulse", setup.enable_pulse->text("chip"),
              setup.enable_pulse->text("line"));
  }
  for (const auto& setup : loaded.hardware.sensors)
    in.part("sensors." + setup.name, setup.driver, setup.params);
  return std::move(in.found);
}

}  // namespace neap::client
