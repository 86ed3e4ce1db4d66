#include <algorithm>
#include <array>

#include "daemon/settings/describe.h"
#include "daemon/settings/read.h"
#include "daemon/settings/schema.h"
#include "daemon/settings/value.h"
#include "drivers/driver.h"
#include "drivers/simulated/faults.h"
#include "drivers/simulated/parameters.h"

namespace neap::settings {
namespace {

constexpr std::size_t kWidth = 100;

constexpr std::string_view kHead =
    R"(# The reference: every key of the settings with its default, its bounds and why. Generated from the
# loader's own tables. It loads as it stands: a simulated tent. Copy what differs for yours.
#
# A quantity is a number and its unit, "90 s" or "24.5 C"; either system of units will do:
)";

// Where the reference says something else than a key's default or example, so that it loads.
struct Instead {
  std::string_view path;
  std::string_view text;
};
constexpr std::array kInstead{
    Instead{"outputs.exhaust_fan.driver", "simulated"},
    Instead{"outputs.exhaust_fan.variable", "true"},
    Instead{"sensors.canopy.driver", "simulated_air"},
    Instead{"telling.daily", "\"08:00\""},  // bare, other readers take it for a number
    Instead{"simulation.faults[1].at", "31 h"},
    Instead{"simulation.faults[1].fault", "canopy_sensor_silent"},
};

// Further stages, outputs and sensors, as short as settings may be.
constexpr std::string_view kMoreStages = R"(
    - name: flowering
      days: 21
      lights_on: "08:00"
      light: 12 h
      vpd_day: 0.8..1.2 kPa
      vpd_night: 0.5..0.9 kPa
      floods: {after_lights_on: [30 min, 5 h, 9 h], soak: 8 min}

    - name: fruiting
      lights_on: "07:00"
      light: 14 h
      vpd_day: 0.8..1.2 kPa
      vpd_night: 0.5..0.9 kPa
      floods: {at: ["08:00", "14:00"], soak: 8 min, depth: 20 L}

    - name: rooting
      lights_on: "07:00"
      light: 16 h
      vpd_day: 0.3..0.6 kPa
      vpd_night: 0.3..0.6 kPa
      floods: none

    - name: fallow
      fallow: true
)";
constexpr std::string_view kMoreOutputs = R"(
  pump: {driver: simulated}
  circulation_fan: {driver: simulated, variable: true, floor: 30 %}
  dehumidifier: {driver: simulated}
  humidifier: {driver: simulated}
  light: {driver: simulated}
  air_pump: {driver: simulated}
  # drain_valve: {driver: ...}  with "drain_path: drain_valve" alone
  # water_heater, water_chiller: {driver: ...}  with the points solution.temperature and
  # reservoir.low or reservoir.level, and a band "water" in each stage that is to be held
)";
constexpr std::string_view kMoreSensors = R"(
  reservoir: {driver: simulated_level, points: {level: reservoir.level}}
  contacts:
    driver: simulated_contacts
    every: 1 s
    points: {tray_full: tray.full, tray_high: tray.high, leak_floor: leak.floor}
)";

class Writer {
 public:
  std::string text;

  void line(std::size_t indent, std::string_view content) {
    text += std::string(content.empty() ? 0 : indent, ' ') + std::string(content) + "\n";
  }

  // A comment of any length, broken between words; its leading spaces indent all of it.
  void comment(std::size_t indent, std::string_view content) {
    const std::size_t inner = content.find_first_not_of(' ');
    const std::string lead = std::string(indent, ' ') + "#" + std::string(inner, ' ');
    std::string current = lead;
    for (const auto word : split_words(content.substr(inner))) {
      if (current.size() + 1 + word.size() > kWidth && current.size() > lead.size()) {
        text += current + "\n";
        current = lead + (inner > 0 ? "  " : "");
      }
      current += " " + std::string(word);
    }
    text += current + "\n";
  }
};

std::string value_of(const Key& key, const std::string& path) {
  for (const auto& row : kInstead)
    if (row.path == path) return std::string(row.text);
  return std::string(key.text);
}

void write_section(Writer& out, const Section& section, std::size_t indent, const std::string& path,
                   bool is_item = false);

// A group that goes with another setting alone: shown, but not in force.
void write_aside(Writer& out, const Section& section, std::size_t indent, std::string_view name,
                 const std::string& path) {
  Writer aside;
  aside.line(0, std::string(name) + ":");
  write_section(aside, section, 2, path);
  std::string_view rest = aside.text;
  while (!rest.empty()) {
    const std::size_t end = rest.find('\n');
    if (end > 0) out.line(indent, "# " + std::string(rest.substr(0, end)));
    rest.remove_prefix(end + 1);
  }
}

void write_group(Writer& out, const Key& key, std::size_t indent, const std::string& path) {
  if (path == "simulation.csv" || key.name == "enable_pulse")
    return write_aside(out, *key.section, indent, key.name, path);
  out.line(indent, std::string(key.name) + ":");
  if (key.kind == Kind::section_list) {
    write_section(out, *key.section, indent + 4, path + "[1]", true);
    if (path == "programme.stages") out.text += kMoreStages;
  } else if (key.kind == Kind::section_outputs) {
    out.line(indent + 2, "exhaust_fan:");
    write_section(out, *key.section, indent + 4, path + ".exhaust_fan");
    out.text += kMoreOutputs;
  } else if (key.kind == Kind::section_names) {
    out.line(indent + 2, "canopy:");
    write_section(out, *key.section, indent + 4, path + ".canopy");
    out.text += kMoreSensors;
  } else {
    write_section(out, *key.section, indent + 2, path);
  }
}

// Groups whose keys come from other tables: one example of each.
struct Example {
  std::string_view path;
  std::string_view text;
};
constexpr std::array kExamples{
    Example{"outputs.exhaust_fan.with", "{}"},
    Example{"sensors.canopy.with", "{place: canopy}"},
    Example{"sensors.canopy.points",
            "{temperature: canopy.temperature, humidity: canopy.humidity}"},
    Example{"calibration.offsets", "{canopy.humidity: -1.5 %, canopy.temperature: 0.2 K}"},
    Example{"simulation.parameters", "{leaf_area_index: 2.5}"},
};

std::string_view example_at(std::string_view path) {
  for (const auto& row : kExamples)
    if (row.path == path) return row.text;
  return {};
}

// A stage's floods have several ways to say when; the first stands here, two further below.
bool shown_elsewhere(const std::string& path) {
  return path.ends_with(".floods.after_lights_on") || path.ends_with(".floods.at") ||
         path.ends_with(".floods.by_demand") || path.ends_with(".floods.no_sooner") ||
         path.ends_with(".floods.no_later");
}

void write_key(Writer& out, const Key& key, std::size_t indent, const std::string& path,
               bool is_first_of_item) {
  const std::string text = value_of(key, path);
  const std::string_view example = example_at(path);
  const bool grouped = key.section != nullptr || !example.empty();
  out.comment(indent, sentence_of(key));
  if (!grouped) out.comment(indent, "  " + rule_of(key));
  if (shown_elsewhere(path))
    out.comment(indent, "  " + std::string(key.name) + ": " + text);
  else if (key.section != nullptr)
    write_group(out, key, indent, path);
  else if (is_first_of_item)
    out.line(indent - 2, "- " + std::string(key.name) + ": " + text);
  else
    out.line(indent,
             std::string(key.name) + ": " + (example.empty() ? text : std::string(example)));
}

void write_section(Writer& out, const Section& section, std::size_t indent, const std::string& path,
                   bool is_item) {
  bool first = is_item;
  for (const auto& key : section.keys) {
    if (indent == 0) out.line(0, "");
    write_key(out, key, indent, join(path, key.name), first);
    first = false;
  }
}

void write_params(Writer& out, std::span<const drivers::ParamSpec> params) {
  for (const auto& param : params)
    out.comment(0, "    with " + std::string(param.name) + ": " + std::string(param.why) + " (" +
                       rule_of(param) + ")");
}

void write_drivers(Writer& out) {
  out.line(0, "");
  out.comment(0, "Drivers of outputs:");
  for (const auto* driver : drivers::output_drivers()) {
    out.comment(0, "  " + std::string(driver->name) + ": " + std::string(driver->about) +
                       (driver->variable ? "; any level" : "; running and stopped alone"));
    write_params(out, driver->params);
  }
  out.comment(0, "Drivers of sensors, and their channels:");
  for (const auto* driver : drivers::sensor_drivers()) {
    out.comment(0, "  " + std::string(driver->name) + ": " + std::string(driver->about));
    for (const auto& channel : driver->channels)
      out.comment(0,
                  "    channel " + std::string(channel.name) +
                      (channel.unit.empty() ? ", a contact" : " in " + std::string(channel.unit)));
    write_params(out, driver->params);
  }
}

void write_points(Writer& out) {
  out.comment(0, "Points that sensors may provide:");
  for (const auto& point : kPoints)
    if (point.kind != PointKind::derived)
      out.comment(0, "  " + std::string(point.name) + ": " + std::string(point.title) +
                         (point.unit.empty() ? "" : " in " + std::string(point.unit)));
}

void write_simulated_tent(Writer& out) {
  out.comment(0, "Faults of the simulated tent:");
  for (const auto& fault : drivers::simulated::kTentFaults)
    out.comment(0, "  " + std::string(fault.name) + ": " + std::string(fault.meaning));
  out.comment(0, "Parameters of the simulated tent: default, range, what and whence:");
  for (const auto& row : drivers::simulated::kParameters)
    out.comment(0, "  " + std::string(row.name) + ": " + format_number(row.fallback) + ", " +
                       format_number(row.lowest) + " to " + format_number(row.highest) + "; " +
                       std::string(row.what) + " (" + std::string(row.source) + ")");
}

}  // namespace

std::string rule_of(const Key& key) {
  std::string rule = key.kind == Kind::choice ? std::string() : std::string(info(key.kind).title);
  const auto words = split_words(key.choices);
  for (std::size_t i = 0; i < words.size(); ++i)
    rule += (i == 0 ? "" : i + 1 == words.size() ? " or " : ", ") + std::string(words[i]);
  if (key.bounds && key.bounds->low < key.bounds->high)
    rule += ", " + format(key.kind, key.bounds->low) + " to " + format(key.kind, key.bounds->high);
  switch (key.need) {
    case Need::required:
      return "required; " + rule;
    case Need::optional:
      return "may be absent; " + rule;
    case Need::defaulted:
      return "default " + std::string(key.text) + "; " + rule;
  }
  return rule;
}

// A capital for the first word, unless that is a word of the settings.
std::string sentence_of(const Key& key) {
  std::string text(key.why);
  const std::string_view first = std::string_view(text).substr(0, text.find_first_of(" :;,"));
  const auto words = split_words(key.choices);
  const bool is_ours = first.find('_') != std::string_view::npos ||
                       std::find(words.begin(), words.end(), first) != words.end();
  if (!is_ours && text.front() >= 'a' && text.front() <= 'z')
    text.front() = static_cast<char>(text.front() - 'a' + 'A');
  return text + ".";
}

std::string rule_of(const drivers::ParamSpec& param) {
  const std::string need = param.required           ? "required"
                           : param.fallback.empty() ? "may be absent"
                                                    : "default " + std::string(param.fallback);
  if (!param.choices.empty()) return need + ", one of " + std::string(param.choices);
  if (!(param.lowest < param.highest)) return need;
  return need + ", " + format_number(param.lowest) + " to " + format_number(param.highest);
}

std::vector<std::string> unit_lines() {
  std::vector<std::string> lines;
  for (const Kind kind : {Kind::duration, Kind::temperature, Kind::temperature_difference,
                          Kind::percent, Kind::level_rate, Kind::volume, Kind::flow, Kind::air_flow,
                          Kind::space, Kind::height, Kind::length, Kind::conductivity, Kind::dose,
                          Kind::vpd_hours, Kind::power, Kind::vpd_band}) {
    const std::string title(info(kind).title);
    lines.push_back(title.substr(0, title.find(',')) + ": " + list_units(info(kind).units));
  }
  return lines;
}

std::string reference_yaml() {
  Writer out;
  out.text = kHead;
  for (const std::string& each : unit_lines()) out.line(0, "#   " + each);
  // The appendix stands before the last key: nothing may follow "end: true".
  const Section& root = root_section();
  const Section all_but_end{root.name, root.keys.first(root.keys.size() - 1), nullptr, nullptr, {}};
  write_section(out, all_but_end, 0, "");
  write_drivers(out);
  write_points(out);
  write_simulated_tent(out);
  const Section end{root.name, root.keys.last(1), nullptr, nullptr, {}};
  write_section(out, end, 0, "");
  return out.text;
}

}  // namespace neap::settings
