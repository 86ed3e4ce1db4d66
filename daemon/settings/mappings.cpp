// The groups whose keys come from other tables: a driver's parameters and channels, points, and the
// figures of the simulated tent.
#include <algorithm>
#include <array>
#include <charconv>

#include "daemon/settings/read.h"
#include "drivers/driver.h"
#include "drivers/simulated/parameters.h"

namespace neap::settings {
namespace {

using drivers::ParamKind;
using drivers::ParamSpec;

std::vector<std::string_view> names_of_sensor_drivers() {
  std::vector<std::string_view> names;
  for (const auto* driver : drivers::sensor_drivers()) names.push_back(driver->name);
  return names;
}

std::vector<std::string_view> names_of_output_drivers() {
  std::vector<std::string_view> names;
  for (const auto* driver : drivers::output_drivers()) names.push_back(driver->name);
  return names;
}

std::string list(const std::vector<std::string_view>& names) {
  std::string out;
  for (const auto name : names) out += (out.empty() ? "" : ", ") + std::string(name);
  return out;
}

void report_driver(Walk& walk, const std::string& group, const std::string& driver,
                   const std::vector<std::string_view>& known) {
  const std::string near = nearest(driver, known);
  walk.report.add(
      walk.draft.place_of(group + ".driver"), group + ".driver",
      "driver is " + driver + "; no driver of that name serves " +
          (group.starts_with("outputs") ? "outputs" : "sensors"),
      near.empty() ? "write one of " + list(known) : "did you mean " + in_quotes(near) + "?");
}

// An integer in decimals or, as addresses are, in hexadecimals.
std::optional<double> integer_of(std::string_view text) {
  const bool negative = text.starts_with('-');
  std::string_view rest = text.substr(negative ? 1 : 0);
  const bool hex = rest.starts_with("0x");
  if (hex) rest.remove_prefix(2);
  if (!hex && rest.size() > 1 && rest.front() == '0') return std::nullopt;
  std::int64_t value = 0;
  const auto [end, error] =
      std::from_chars(rest.data(), rest.data() + rest.size(), value, hex ? 16 : 10);
  if (rest.empty() || rest.front() == '-' || error != std::errc{} ||
      end != rest.data() + rest.size())
    return std::nullopt;
  return static_cast<double>(negative ? -value : value);
}

std::optional<Complaint> check_number(const ParamSpec& spec, const Node& node,
                                      std::optional<double> value, std::string rule) {
  if (value && *value >= spec.lowest && *value <= spec.highest) return std::nullopt;
  if (value) rule = format_number(spec.lowest) + " to " + format_number(spec.highest);
  return Complaint{std::string(spec.name) + " is " + written(node) + "; must be " + rule,
                   "it is " + std::string(spec.why)};
}

std::optional<Complaint> check_scalar(const ParamSpec& spec, const Node& node) {
  switch (spec.kind) {
    case ParamKind::integer:
      return check_number(spec, node, integer_of(node.text),
                          "a whole number, in decimals or as 0x and hexadecimals");
    case ParamKind::number: {
      const auto number = read_decimal(node.text);
      const auto* value = std::get_if<double>(&number);
      return check_number(spec, node, value ? std::optional<double>(*value) : std::nullopt,
                          "a plain decimal");
    }
    case ParamKind::text:
    case ParamKind::path:
      if (!node.text.empty() && node.text.size() <= 255) return std::nullopt;
      return Complaint{
          std::string(spec.name) + " is " + written(node) + "; must be text of 1 to 255 characters",
          "it is " + std::string(spec.why)};
    case ParamKind::choice: {
      auto result = read_value(spec.name, node, {Kind::choice, {}, {}, spec.choices, spec.why});
      if (auto* bad = std::get_if<Complaint>(&result)) return std::move(*bad);
      return std::nullopt;
    }
    case ParamKind::truth: {
      auto result = read_value(spec.name, node, {Kind::truth, {}, {}, {}, spec.why});
      if (auto* bad = std::get_if<Complaint>(&result)) return std::move(*bad);
      return std::nullopt;
    }
    case ParamKind::words:
      break;
  }
  return std::nullopt;
}

void read_words(Walk& walk, const ParamSpec& spec, const Node& node, const std::string& path,
                drivers::Params& params) {
  std::vector<std::string> words;
  const bool all_scalars = node.kind == NodeKind::list && !node.items.empty() &&
                           std::all_of(node.items.begin(), node.items.end(), [](const Node& item) {
                             return item.kind == NodeKind::scalar;
                           });
  if (!all_scalars) {
    walk.report.add(
        node.place, path,
        std::string(spec.name) + " is " + written(node) + "; must be a list of at least one word",
        "write for example \"" + std::string(spec.name) + ": [one, two]\"");
    return;
  }
  for (const auto& item : node.items) words.push_back(item.text);
  params.set_words(std::string(spec.name), std::move(words));
}

void read_param(Walk& walk, const ParamSpec& spec, const Node& node, const std::string& path,
                drivers::Params& params) {
  walk.draft.places[path] = node.place;
  if (node.kind == NodeKind::refused) return;
  if (spec.kind == ParamKind::words) return read_words(walk, spec, node, path, params);
  auto bad =
      node.kind == NodeKind::scalar
          ? check_scalar(spec, node)
          : Complaint{std::string(spec.name) + " is " + written(node) + "; must be a single value",
                      "it is " + std::string(spec.why)};
  if (bad) {
    walk.report.add(node.place, path, std::move(bad->message), std::move(bad->remedy));
    return;
  }
  walk.draft.sound.insert(path);
  params.set(std::string(spec.name), node.text);
}

void fill_param(Walk& walk, const ParamSpec& spec, const std::string& path,
                drivers::Params& params) {
  if (spec.required) {
    walk.report.add(
        walk.draft.place_of(path), path, "with has no " + std::string(spec.name),
        "add \"with: {" + std::string(spec.name) + ": ...}\": " + std::string(spec.why));
  } else if (spec.kind != ParamKind::words && !spec.fallback.empty()) {
    params.set(std::string(spec.name), std::string(spec.fallback));
  }
}

void read_params(Walk& walk, std::span<const ParamSpec> specs, const Node* node,
                 const std::string& path, drivers::Params& params) {
  std::vector<std::string_view> known;
  for (const auto& spec : specs) known.push_back(spec.name);
  if (node != nullptr && node->kind != NodeKind::map) {
    walk.report.add(node->place, path, "with is " + written(*node) + "; must be a group of keys",
                    "write \"with: {name: value}\"");
    return;
  }
  for (std::size_t i = 0; node != nullptr && i < node->keys.size(); ++i) {
    const Node& key = node->keys[i];
    if (key.kind != NodeKind::scalar) continue;
    if (std::find(known.begin(), known.end(), key.text) == known.end())
      report_unknown(walk, key, path, known, "this driver");
  }
  for (const auto& spec : specs) {
    const Node* given = node == nullptr ? nullptr : node->find(spec.name);
    if (given != nullptr)
      read_param(walk, spec, *given, join(path, spec.name), params);
    else
      fill_param(walk, spec, join(path, spec.name), params);
  }
}

std::string group_of(const std::string& path) { return path.substr(0, path.rfind('.')); }

const drivers::ChannelSpec* find_channel(const drivers::SensorInfo& driver, std::string_view name) {
  for (const auto& channel : driver.channels)
    if (channel.name == name) return &channel;
  return nullptr;
}

std::vector<std::string_view> measured_points() {
  std::vector<std::string_view> names;
  for (const auto& row : kPoints)
    if (row.kind != PointKind::derived) names.push_back(row.name);
  return names;
}

const PointInfo* read_point(Walk& walk, const Node& node, const std::string& path) {
  if (node.kind == NodeKind::refused) return nullptr;
  const PointInfo* point = node.kind == NodeKind::scalar ? find_point(node.text) : nullptr;
  if (point != nullptr && point->kind != PointKind::derived) return point;
  const auto names = measured_points();
  const std::string near = node.kind == NodeKind::scalar ? nearest(node.text, names) : "";
  const bool derived = point != nullptr;
  walk.report.add(node.place, path,
                  derived ? node.text + " is computed by neap; no sensor provides it"
                          : "neap has no point " + in_quotes(written(node)),
                  derived || near.empty() ? "the points are: " + list(names)
                                          : "did you mean " + in_quotes(near) + "?");
  return nullptr;
}

}  // namespace

void read_driver_params(Walk& walk, const Node* node, const std::string& path) {
  const std::string group = group_of(path);
  if (!walk.draft.is_sound(group + ".driver")) return;
  if (path.starts_with("outputs.")) {
    auto& setup = *walk.draft.output_setup;
    if (const auto* driver = drivers::find_output_driver(setup.driver))
      read_params(walk, driver->params, node, path, setup.params);
    else
      report_driver(walk, group, setup.driver, names_of_output_drivers());
    return;
  }
  auto& setup = *walk.draft.sensor;
  if (const auto* driver = drivers::find_sensor_driver(setup.driver))
    read_params(walk, driver->params, node, path, setup.params);
  else
    report_driver(walk, group, setup.driver, names_of_sensor_drivers());
}

void read_channel_points(Walk& walk, const Node& node, const std::string& path) {
  auto& setup = *walk.draft.sensor;
  const auto* driver = drivers::find_sensor_driver(setup.driver);
  if (node.kind != NodeKind::map) {
    walk.report.add(node.place, path, "points is " + written(node) + "; must be a group of keys",
                    "write \"points: {temperature: canopy.temperature}\"");
    return;
  }
  if (driver == nullptr) return;  // reported with its name
  std::vector<std::string_view> channels;
  for (const auto& channel : driver->channels) channels.push_back(channel.name);
  for (std::size_t i = 0; i < node.items.size(); ++i) {
    const Node& key = node.keys[i];
    if (key.kind != NodeKind::scalar) continue;
    const auto* channel = find_channel(*driver, key.text);
    if (channel == nullptr) {
      report_unknown(walk, key, path, channels, "this driver");
      continue;
    }
    const std::string use_path = join(path, key.text);
    const PointInfo* point = read_point(walk, node.items[i], use_path);
    if (point == nullptr) continue;
    walk.draft.places[use_path] = node.items[i].place;
    setup.uses.push_back({static_cast<int>(channel - driver->channels.data()), point->point});
  }
}

void read_offsets(Walk& walk, const Node& node, const std::string& path) {
  if (node.kind != NodeKind::map) {
    walk.report.add(node.place, path, "offsets is " + written(node) + "; must be a group of keys",
                    "write \"offsets: {canopy.humidity: -1.5 %}\"");
    return;
  }
  for (std::size_t i = 0; i < node.items.size(); ++i) {
    const Node& key = node.keys[i];
    const Node& item = node.items[i];
    const std::string item_path = path + "[" + key.text + "]";
    const PointInfo* point = read_point(walk, key, item_path);
    if (point == nullptr || item.kind == NodeKind::refused) continue;
    if (point->kind == PointKind::contact || !walk.draft.plan.points[point->point]) {
      walk.report.add(key.place, item_path,
                      point->kind == PointKind::contact
                          ? key.text + " is a contact; a contact has no offset"
                          : key.text + " has an offset, but no sensor provides it",
                      "delete the line");
      continue;
    }
    // An offset of a temperature is a difference: K, not C.
    const bool temperature = point->unit == "C";
    const std::array own{Unit{point->unit, 1}};
    const auto units =
        temperature ? info(Kind::temperature_difference).units : std::span<const Unit>(own);
    if (item.kind != NodeKind::scalar) {
      walk.report.add(
          item.place, item_path,
          key.text + " is " + written(item) + "; must be a number in " + list_units(units),
          "write one value");
      continue;
    }
    auto result =
        read_quantity(key.text, item.text, units, "-1 " + std::string(units.front().name));
    if (auto* bad = std::get_if<Complaint>(&result)) {
      walk.report.add(item.place, item_path, std::move(bad->message), std::move(bad->remedy));
      continue;
    }
    const double offset = std::get<double>(result);
    const double most = (point->highest - point->lowest) / 5;
    if (offset < -most || offset > most) {
      walk.report.add(item.place, item_path,
                      key.text + " is " + item.text + "; an offset must be within " +
                          format_number(most) + " " + std::string(units.front().name),
                      "a sensor that is further off is broken: replace it");
      continue;
    }
    walk.draft.plan.points[point->point]->offset = offset;
  }
}

void read_plant_parameters(Walk& walk, const Node& node, const std::string& path) {
  namespace plant = drivers::simulated;
  if (node.kind != NodeKind::map) {
    walk.report.add(node.place, path,
                    "parameters is " + written(node) + "; must be a group of keys",
                    "write \"parameters: {leaf_area_index: 2.5}\"");
    return;
  }
  std::vector<std::string_view> known;
  for (const auto& row : plant::kParameters) known.push_back(row.name);
  for (std::size_t i = 0; i < node.items.size(); ++i) {
    const Node& key = node.keys[i];
    if (key.kind != NodeKind::scalar || node.items[i].kind == NodeKind::refused) continue;
    const auto row = std::find_if(plant::kParameters.begin(), plant::kParameters.end(),
                                  [&](const auto& p) { return p.name == key.text; });
    if (row == plant::kParameters.end()) {
      report_unknown(walk, key, path, known, "the simulated tent");
      continue;
    }
    const std::string item_path = join(path, key.text);
    walk.draft.places[item_path] = node.items[i].place;
    auto result = read_value(key.text, node.items[i],
                             {Kind::number, row->lowest, row->highest, {}, row->what});
    if (auto* bad = std::get_if<Complaint>(&result)) {
      walk.report.add(node.items[i].place, item_path, std::move(bad->message),
                      std::move(bad->remedy));
      continue;
    }
    walk.draft.hardware.simulation->parameters[key.text] = std::get<Value>(result).number;
  }
}

}  // namespace neap::settings
