// The text of a drafted settings file.
#include <algorithm>
#include <cmath>

#include "daemon/client/draft.h"
#include "daemon/client/look.h"
#include "daemon/settings/quantity.h"

namespace neap::client {

// Pins are a board's usual header (config/wiring.md): relays on pins that the board pulls down at
// its start, contacts to ground.
const std::array<DraftPart, 22> kDraftParts{{
    {"pump", "the flood pump", true,
     R"(  pump:                         # normally open contact: no current without the board
    driver: gpio_relay
    with: {chip: pinctrl-bcm2711, line: GPIO17, active: high}
)"},
    {"second-contact", "a second relay in series with the pump's", true,
     R"(  pump_series:
    driver: gpio_relay
    with: {chip: pinctrl-bcm2711, line: GPIO27, active: high}
)"},
    {"drain-valve", "a valve that holds the water, open without power", true, R"(  drain_valve:
    driver: gpio_relay
    with: {chip: pinctrl-bcm2711, line: GPIO22, active: low}
)"},
    {"fan", "the exhaust fan, its speed by PWM", true, R"(  exhaust_fan:
    driver: pwm_fan
    with: {chip: fe20c000.pwm, channel: 0, inverted: true}  # GPIO12, by an open-drain transistor
    variable: true
    floor: 25 %                 # the lowest level at which it surely turns
    quiet_ceiling: 60 %
    fallback: 50 %              # when the canopy sensor is gone
)"},
    {"circulation-fan", "a fan that moves the tent's own air", true, R"(  circulation_fan:
    driver: gpio_relay
    with: {chip: pinctrl-bcm2711, line: GPIO16, active: low}
)"},
    {"dehumidifier", "a dehumidifier", true,
     R"(  dehumidifier:                 # one that starts again by itself when its power returns
    driver: gpio_relay
    with: {chip: pinctrl-bcm2711, line: GPIO24, active: high}
)"},
    {"humidifier", "a humidifier", true, R"(  humidifier:
    driver: gpio_relay
    with: {chip: pinctrl-bcm2711, line: GPIO25, active: high}
)"},
    {"light", "the light", true, R"(  light:
    driver: gpio_relay
    with: {chip: pinctrl-bcm2711, line: GPIO23, active: high}
)"},
    {"air-pump", "an air pump in the reservoir", true, R"(  air_pump:
    driver: gpio_relay
    with: {chip: pinctrl-bcm2711, line: GPIO26, active: low}
)"},
    {"water-heater", "a heater in the reservoir", true,
     R"(  water_heater:                 # keeps its own thermostat and its cut-out for running dry
    driver: gpio_relay
    with: {chip: pinctrl-bcm2711, line: GPIO13, active: high}
)"},
    {"water-chiller", "a chiller of the reservoir", true, R"(  water_chiller:
    driver: gpio_relay
    with: {chip: pinctrl-bcm2711, line: GPIO21, active: high}
)"},
    {"canopy", "temperature and humidity over the plants", false,
     R"(  canopy:                       # among the leaves, shaded and in moving air
    driver: hwmon
    with: {chip: sht4x, device: 1-0044}
    points: {temperature: canopy.temperature, humidity: canopy.humidity}
    frozen_after: 1 h
)"},
    {"canopy-b", "the same at a second place", false, R"(  canopy_b:
    driver: hwmon
    with: {chip: sht4x, device: 2-0044}
    points: {temperature: canopy_b.temperature, humidity: canopy_b.humidity}
    frozen_after: 1 h
)"},
    {"room", "temperature and humidity around the tent", false,
     R"(  room:                         # where the tent draws its air from
    driver: hwmon
    with: {chip: sht4x, device: 1-0045}
    every: 30 s
    points: {temperature: room.temperature, humidity: room.humidity}
)"},
    {"leak", "a leak probe on the floor", false,
     R"(  leak_probe:                   # on the floor, at its lowest place
    driver: gpio_contact
    with: {chip: pinctrl-bcm2711, line: GPIO18, active: high}
    every: 1 s
    points: {contact: leak.floor}
)"},
    {"tray-float", "a float at the standpipe's rim", false,
     R"(  tray_float:                   # set while water lifts it, as every float here
    driver: gpio_contact
    with: {chip: pinctrl-bcm2711, line: GPIO6, active: high}
    every: 1 s
    points: {contact: tray.full}
)"},
    {"overflow-float", "a float between standpipe and tray's rim", false, R"(  tray_overflow:
    driver: gpio_contact
    with: {chip: pinctrl-bcm2711, line: GPIO5, active: high}
    every: 1 s
    points: {contact: tray.high}
)"},
    {"reservoir-float", "a float over the pump's intake", false, R"(  reservoir_float:
    driver: gpio_contact
    with: {chip: pinctrl-bcm2711, line: GPIO20, active: low}
    every: 1 s
    points: {contact: reservoir.low}
)"},
    {"level", "the reservoir's level in litres", false, R"(  reservoir_level:
    driver: program
    with: {command: [/usr/local/lib/neap/level]}
    every: 10 s
    points: {level: reservoir.level}
)"},
    {"water-temperature", "the solution's temperature in the reservoir", false,
     R"(  water_probe:                  # its number: ls /sys/bus/w1/devices
    driver: one_wire
    with: {id: 28-0316a2795cff}
    every: 30 s
    points: {temperature: solution.temperature}
)"},
    {"pump-proof", "whether the pump has current, pressure or flow", false, R"(  pump_proof:
    driver: gpio_contact
    with: {chip: pinctrl-bcm2711, line: GPIO19, active: low}
    every: 1 s
    points: {contact: pump.running}
)"},
    {"air-pump-proof", "whether the air pump has pressure or current", false, R"(  air_pump_proof:
    driver: gpio_contact
    with: {chip: pinctrl-bcm2711, line: GPIO7, active: low}
    every: 10 s
    points: {contact: air_pump.running}
)"},
}};

namespace {

bool fitted(const std::vector<std::string>& parts, std::string_view word) {
  return std::find(parts.begin(), parts.end(), word) != parts.end();
}

std::string_view before_comma(std::string_view pair) { return pair.substr(0, pair.find(',')); }
std::string after_comma(std::string_view pair) {
  const std::size_t begin = pair.find_first_not_of(' ', pair.find(',') + 1);
  return std::string(pair.substr(begin));
}

double number_of(std::string_view typed, settings::Kind kind) {
  const auto read = settings::read_quantity("it", typed, settings::info(kind).units, "");
  const auto* value = std::get_if<double>(&read);
  return value == nullptr ? 0 : *value;
}

// Half as long again as a fill should take, in whole half minutes.
std::string fill_limit(const DraftAnswers& answers) {
  const double volume = number_of(before_comma(answers.tray), settings::Kind::volume);
  const double flow = number_of(answers.pump_flow, settings::Kind::flow);
  const double seconds = std::ceil(volume / flow * 3600 * 1.5 / 30) * 30;
  return settings::format_seconds(static_cast<std::int64_t>(std::max(60.0, seconds)));
}

// The mark up to which the reservoir is filled, so that a flood still finds room in it.
std::string top_up(const DraftAnswers& answers) {
  const double brim = number_of(before_comma(answers.reservoir), settings::Kind::volume);
  const double flood = number_of(before_comma(answers.tray), settings::Kind::volume);
  return settings::format(settings::Kind::volume, brim - flood);
}

std::string space(const std::string& size) {
  double product = 1;
  std::string_view rest = size;
  for (int i = 0; i < 3; ++i) {
    const std::size_t begin = rest.find_first_of("0123456789");
    const std::size_t end = rest.find_first_not_of("0123456789.", begin);
    const auto number = settings::read_decimal(rest.substr(begin, end - begin));
    product *= std::get<double>(number);
    rest.remove_prefix(end);
  }
  const bool metres = rest.ends_with(" m") || rest.ends_with("0m");
  const double unit = rest.ends_with("in") ? 0.0254 : metres ? 1 : 0.01;
  return settings::format_number(std::round(product * unit * unit * unit * 100) / 100) + " m3";
}

std::string comment(std::string_view text) {
  constexpr std::size_t kWidth = 96;
  std::string out;
  const std::string lines = wrapped(text, kWidth, 2);
  std::string_view rest = lines;
  while (!rest.empty()) {
    const std::size_t end = std::min(rest.find('\n'), rest.size());
    out += "# " + std::string(rest.substr(0, end)) + "\n";
    rest.remove_prefix(std::min(end + 1, rest.size()));
  }
  return out;
}

std::string head(const DraftAnswers& answers) {
  const Protections told = protections_of(answers);
  std::string out = comment(
                        "Drafted by neap draft. Measure what it asks for, correct it, and run "
                        "neap check on it; config/reference.yaml has every key, "
                        "config/wiring.md says what goes to which pin.") +
                    "#\n";
  out += comment("With these parts you have these protections:");
  for (const Protection* one : told.have)
    out += comment("- " + std::string(one->trouble) + ": " + std::string(one->with));
  out += comment(told.lack.empty() ? "and lack none that neap knows of." : "and lack these:");
  for (const Protection* one : told.lack)
    out += comment("- " + std::string(one->trouble) + ": " + std::string(one->without));
  return out + comment(
                   "Software is never the last guard: a standpipe that passes more than the "
                   "pump, a float switch in series with it, an RCD, drip loops.");
}

std::string floods(const DraftAnswers& answers) {
  return fitted(answers.outputs, "pump")
             ? "{spread: 3, first_after: 1 h, last_before: 2 h, soak: 8 min}"
             : "none";
}

std::string parts_yaml(const std::vector<std::string>& words) {
  std::string out;
  for (const DraftPart& part : kDraftParts)  // in one order, whatever order they were typed in
    if (fitted(words, part.word)) out += part.yaml;
  return out;
}

}  // namespace

std::string draft_yaml(const DraftAnswers& answers) {
  const std::string lights_on = answers.light.substr(0, 5);
  const std::string light = answers.light.substr(answers.light.find_first_not_of(' ', 5));
  std::string out = head(answers) + "neap: 1\nname: \"" + answers.name + "\"\n";
  out +=
      R"(# observe drives nothing: neap reads, and tells what it would have done. When a few days of that
# look right to you, hand over output by output (hand: neap under it), or write control.
mode: observe
)";
  out += "time_zone: " + answers.time_zone + "\n\ntent:\n  volume: " + space(answers.size) + "\n";
  out +=
      R"(  exhaust_flow: 120 m3/h        # with filter and duct: about half of what the fan's label says

table:
)";
  out += "  drain_path: " + answers.drain_path + "\n";
  out += "  tray_capacity: " + after_comma(answers.tray) + "         # to the tray's rim\n";
  out += "  flood_volume: " + std::string(before_comma(answers.tray)) +
         "          # to the standpipe's rim\n";
  out += "  reservoir_capacity: " + std::string(before_comma(answers.reservoir)) + "\n";
  out += "  reservoir_minimum: " + after_comma(answers.reservoir) +
         "     # the pump stays under water\n";
  out += "  pump_flow: " + answers.pump_flow + "\n";
  out += "  fill_limit: " + fill_limit(answers) +
         "           # half as long again as it should take: measure one\n";
  out += R"(
# Whether the standpipe passes what the pump can deliver, neap check works out from these: measure
# them and take the marks away.
# build:
#   standpipe_bore: 32 mm
#   standpipe_height: 60 mm
#   freeboard: 40 mm            # from the standpipe's rim up to the tray's
#   pump_free_flow: 900 L/h     # label
#   pump_head: 1.8 m            # label
#   lift: 0.4 m                 # the reservoir's water up to the tray's floor
#   hose_bore: 13 mm
#   hose_length: 1.5 m
)";
  out +=
      "#   top_up: " + top_up(answers) + R"(              # a flood that comes back still finds room

programme:
  start: 2026-03-02             # day 1 of the first stage
  stages:
    - name: leafing
)";
  out += "      lights_on: \"" + lights_on + "\"\n      light: " + light + "\n";
  out += R"(      vpd_day: 0.8..1.2 kPa     # leafy crops by day; seedlings want 0.4..0.8
      vpd_night: 0.5..0.9 kPa
      air: 12..30 C
)";
  if (tempers_water(answers.outputs))
    out += "      water: 18..22 C           # the roots' comfort (common practice, no source)\n";
  out += "      floods: " + floods(answers) + "\n    - name: fallow\n      fallow: true\n";
  const std::string outputs = parts_yaml(answers.outputs);
  const std::string sensors = parts_yaml(answers.sensors);
  out += outputs.empty() ? "\noutputs: {}\n" : "\noutputs:\n" + outputs;
  out += sensors.empty() ? "\nsensors: {}\n" : "\nsensors:\n" + sensors;
  return out + "\nend: true\n";
}

}  // namespace neap::client
