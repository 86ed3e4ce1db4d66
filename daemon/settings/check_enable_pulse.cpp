// Rules of the pulse that a dead-man circuit at the pump waits for.
#include "daemon/settings/checks.h"
#include "drivers/driver.h"

namespace neap::settings {
namespace {

// Another output on the line would hold it at one level, or make edges of its own.
void check_line(const Draft& d, Report& report, const drivers::OutputSetup& pulsed,
                const std::string& path) {
  const auto* line_driver = drivers::find_output_driver("gpio_relay");
  const std::string line = line_driver->resource(*pulsed.enable_pulse, pulsed.output);
  for (const auto& setup : d.hardware.outputs) {
    const auto* driver = drivers::find_output_driver(setup.driver);
    if (driver == nullptr || driver->resource(setup.params, setup.output) != line) continue;
    report.add(d.place_of(path + ".line"), path + ".line",
               "enable_pulse uses " + line + ", as " + std::string(info(setup.output).name) +
                   " does; must be its own",
               "give one of the two another line");
  }
}

}  // namespace

void check_enable_pulse(const Draft& d, Report& report) {
  for (const auto& setup : d.hardware.outputs) {
    if (!setup.enable_pulse) continue;
    const std::string name(info(setup.output).name);
    const std::string path = "outputs." + name + ".enable_pulse";
    const auto* driver = drivers::find_output_driver(setup.driver);
    if (setup.output != Output::pump)
      report.add(d.place_of(path), path, "enable_pulse is for the pump; " + name + " has none",
                 "delete the group, or write it under the pump");
    else if (driver != nullptr && driver->simulated)
      report.add(d.place_of(path), path,
                 "enable_pulse beats on a real line, and the pump is simulated",
                 "delete the group, or name the driver of a real pump");
    else if (d.is_sound(path + ".chip") && d.is_sound(path + ".line"))
      check_line(d, report, setup, path);
  }
}

}  // namespace neap::settings
