// Rules of the button at the tent.
#include <algorithm>

#include "daemon/core/button.h"
#include "daemon/settings/checks.h"
#include "daemon/settings/quantity.h"

namespace neap::settings {

void check_button(const Draft& d, Report& report) {
  for (const auto& sensor : d.hardware.sensors) {
    const bool button = std::any_of(sensor.uses.begin(), sensor.uses.end(), [](const auto& use) {
      return use.point == Point::button_pressed;
    });
    const std::string path = "sensors." + sensor.name + ".every";
    if (!button || sensor.period <= kButtonEvery || !d.is_sound(path)) continue;
    report.add(d.place_of(path), path,
               "every is " + format_seconds(sensor.period.count() / 1000) + "; must be at most " +
                   format_seconds(kButtonEvery.count() / 1000) + " for button.pressed",
               "a short press and a long one are told apart by the second");
  }
}

}  // namespace neap::settings
