#include <array>
#include <utility>

#include "daemon/settings/describe.h"
#include "daemon/settings/schema.h"
#include "daemon/settings/value.h"
#include "drivers/driver.h"
#include "drivers/simulated/parameters.h"

namespace neap::settings {
namespace {

// JSON in one line; indented() breaks it.
std::string text_of(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out.push_back('\\');
    out.push_back(c);
  }
  return out + "\"";
}

using Members = std::vector<std::pair<std::string, std::string>>;

std::string object(const Members& members) {
  std::string out = "{";
  for (const auto& [name, value] : members)
    out += (out.size() > 1 ? "," : "") + text_of(name) + ":" + value;
  return out + "}";
}

std::string array(const std::vector<std::string>& items) {
  std::string out = "[";
  for (const auto& item : items) out += (out.size() > 1 ? "," : "") + item;
  return out + "]";
}

std::string indented(std::string_view json) {
  std::string out;
  std::size_t depth = 0;
  bool quoted = false;
  const auto new_line = [&] { out += "\n" + std::string(2 * depth, ' '); };
  for (std::size_t i = 0; i < json.size(); ++i) {
    const char c = json[i];
    if (c == '"' && (i == 0 || json[i - 1] != '\\' || json[i - 2] == '\\')) quoted = !quoted;
    const bool opens = !quoted && (c == '{' || c == '[');
    const bool closes = !quoted && (c == '}' || c == ']');
    if (closes) --depth;
    if (closes && json[i - 1] != '{' && json[i - 1] != '[') new_line();
    out.push_back(c);
    if (opens) ++depth;
    const bool is_empty = opens && (json[i + 1] == '}' || json[i + 1] == ']');
    if ((opens && !is_empty) || (!quoted && c == ',')) new_line();
    if (!quoted && c == ':') out.push_back(' ');
  }
  return out + "\n";
}

constexpr std::string_view kNumber = R"(-?(0|[1-9][0-9]*)(\.[0-9]+)?)";

std::string units_pattern(std::span<const Unit> units) {
  std::string out = "(";
  for (const auto& unit : units) out += (out.size() > 1 ? "|" : "") + std::string(unit.name);
  return out + ")";
}

std::string quantity_pattern(std::span<const Unit> units) {
  return std::string(kNumber) + " ?" + units_pattern(units);
}

Members text_with(const std::string& pattern) {
  return {{"type", text_of("string")}, {"pattern", text_of("^" + pattern + "$")}};
}

Members list_of(const Members& item) {
  return {{"type", text_of("array")}, {"minItems", "1"}, {"items", object(item)}};
}

constexpr std::string_view kClock = "([01][0-9]|2[0-3]):[0-5][0-9]";

void add_bounds(Members& members, const Key& key) {
  if (!key.bounds) return;
  members.emplace_back("minimum", format_number(key.bounds->low));
  members.emplace_back("maximum", format_number(key.bounds->high));
}

Members choice_of(std::string_view words) {
  std::vector<std::string> items;
  for (const auto word : split_words(words)) items.push_back(text_of(word));
  return {{"enum", array(items)}};
}

std::string section_schema(const Section& section);

std::string one_of_group_or_word(const Section& section) {
  if (section.instead.empty()) return section_schema(section);
  return object(
      {{"anyOf", array({section_schema(section), object({{"const", text_of(section.instead)}})})}});
}

std::string outputs_schema() {
  Members properties;
  for (const auto& row : kOutputs)
    properties.emplace_back(row.name, R"({"$ref":"#/definitions/output"})");

  return object({{"type", text_of("object")},
                 {"additionalProperties", "false"},
                 {"properties", object(properties)}});
}

Members offsets_schema() {
  Members properties;
  for (const auto& point : kPoints) {
    if (point.kind != PointKind::analog) continue;
    const std::array own{Unit{point.unit, 1}};
    const auto units =
        point.unit == "C" ? info(Kind::temperature_difference).units : std::span<const Unit>(own);
    properties.emplace_back(point.name, object(text_with(quantity_pattern(units))));
  }
  return {{"type", text_of("object")},
          {"additionalProperties", "false"},
          {"properties", object(properties)}};
}

Members plant_schema() {
  Members properties;
  for (const auto& row : drivers::simulated::kParameters)
    properties.emplace_back(row.name, object({{"type", text_of("number")},
                                              {"minimum", format_number(row.lowest)},
                                              {"maximum", format_number(row.highest)},
                                              {"description", text_of(row.what)}}));
  return {{"type", text_of("object")},
          {"additionalProperties", "false"},
          {"properties", object(properties)}};
}

Members points_schema() {
  std::vector<std::string> names;
  for (const auto& point : kPoints)
    if (point.kind != PointKind::derived) names.push_back(text_of(point.name));
  return {{"type", text_of("object")}, {"additionalProperties", object({{"enum", array(names)}})}};
}

Members number_schema(const Key& key, std::string_view type) {
  Members members{{"type", text_of(type)}};
  add_bounds(members, key);
  return members;
}

Members value_schema(const Key& key) {
  const auto units = info(key.kind).units;
  switch (key.kind) {
    case Kind::truth:
      if (key.name == "end") return {{"const", "true"}};
      return {{"type", text_of("boolean")}};
    case Kind::text:
      return {{"type", text_of("string")}, {"minLength", "1"}, {"maxLength", "128"}};
    case Kind::word:
      return text_with("[a-z][a-z0-9_-]{0,31}");
    case Kind::choice:
      return choice_of(key.choices);
    case Kind::count:
      return number_schema(key, "integer");
    case Kind::number:
      return number_schema(key, "number");
    case Kind::duration:
    case Kind::temperature:
    case Kind::temperature_difference:
    case Kind::percent:
    case Kind::level_rate:
    case Kind::volume:
    case Kind::flow:
    case Kind::air_flow:
    case Kind::space:
    case Kind::height:
    case Kind::length:
    case Kind::conductivity:
    case Kind::dose:
    case Kind::vpd_hours:
    case Kind::power:
      return text_with(quantity_pattern(units));
    case Kind::level:
      return text_with("(stopped|running|" + quantity_pattern(units) + ")");
    case Kind::depth:
      return text_with("(float|" + quantity_pattern(units) + ")");
    case Kind::clock:
      return text_with(std::string(kClock));
    case Kind::date:
      return text_with("20[0-9]{2}-[01][0-9]-[0-3][0-9]");
    case Kind::vpd_band:
    case Kind::temperature_band:
    case Kind::ph_band:
    case Kind::ec_band:
    case Kind::volume_band:
      return text_with(std::string(kNumber) + "\\.\\." + quantity_pattern(units));
    case Kind::clocks:
      return list_of(text_with(std::string(kClock)));
    case Kind::durations:
      return list_of(text_with(quantity_pattern(units)));
    case Kind::command:
      return {{"type", text_of("array")},
              {"minItems", "1"},
              {"maxItems", "16"},
              {"items", R"({"type":["string","number","boolean"]})"}};
    case Kind::driver_params:
      return {{"type", text_of("object")}};
    case Kind::channel_points:
      return points_schema();
    case Kind::offsets:
      return offsets_schema();
    case Kind::plant_parameters:
      return plant_schema();
    case Kind::section:
    case Kind::section_list:
    case Kind::section_names:
    case Kind::section_outputs:
      break;
  }
  return {};
}

std::string key_schema(const Key& key) {
  if (key.kind == Kind::section) return one_of_group_or_word(*key.section);
  if (key.kind == Kind::section_outputs) return outputs_schema();
  if (key.kind == Kind::section_names)
    return R"({"type":"object","propertyNames":{"pattern":"^[a-z][a-z0-9_-]{0,31}$"},)"
           R"("additionalProperties":{"$ref":"#/definitions/sensor"}})";
  if (key.kind == Kind::section_list)
    return object(
        {{"type", text_of("array")}, {"minItems", "1"}, {"items", section_schema(*key.section)}});
  Members members = value_schema(key);
  members.emplace_back("description", text_of(key.why));
  if (key.need == Need::defaulted && members.front().second == text_of("string"))
    members.emplace_back("default", text_of(key.text));
  return object(members);
}

Members section_members(const Section& section) {
  Members properties;
  std::vector<std::string> needed;
  for (const auto& key : section.keys) {
    properties.emplace_back(key.name, key_schema(key));
    if (key.need == Need::required) needed.push_back(text_of(key.name));
  }
  Members members{{"type", text_of("object")},
                  {"additionalProperties", "false"},
                  {"properties", object(properties)}};
  if (!needed.empty()) members.emplace_back("required", array(needed));
  return members;
}

std::string section_schema(const Section& section) { return object(section_members(section)); }

Members param_schema(const drivers::ParamSpec& spec) {
  using drivers::ParamKind;
  switch (spec.kind) {
    case ParamKind::integer:
    case ParamKind::number: {
      const bool whole = spec.kind == ParamKind::integer;
      return {{"type", text_of(whole ? "integer" : "number")},
              {"minimum", format_number(spec.lowest)},
              {"maximum", format_number(spec.highest)}};
    }
    case ParamKind::text:
    case ParamKind::path:
      return {{"type", text_of("string")}, {"minLength", "1"}};
    case ParamKind::words:
      return list_of({{"type", R"(["string","number","boolean"])"}});
    case ParamKind::choice:
      return choice_of(spec.choices);
    case ParamKind::truth:
      return {{"type", text_of("boolean")}};
  }
  return {};
}

// "if the driver is X, then `with` has X's parameters and `points` X's channels".
std::string driver_rule(std::string_view name, std::span<const drivers::ParamSpec> params,
                        std::span<const drivers::ChannelSpec> channels) {
  Members properties;
  std::vector<std::string> needed;
  for (const auto& spec : params) {
    Members members = param_schema(spec);
    members.emplace_back("description", text_of(spec.why));
    properties.emplace_back(spec.name, object(members));
    if (spec.required) needed.push_back(text_of(spec.name));
  }
  Members with{{"additionalProperties", "false"}, {"properties", object(properties)}};
  if (!needed.empty()) with.emplace_back("required", array(needed));
  Members then{{"with", object(with)}};
  if (!channels.empty()) {
    std::vector<std::string> names;
    for (const auto& channel : channels) names.push_back(text_of(channel.name));
    then.emplace_back("points", object({{"propertyNames", object({{"enum", array(names)}})}}));
  }
  Members consequence{{"properties", object(then)}};
  if (!needed.empty()) consequence.emplace_back("required", array({text_of("with")}));
  const std::string is_driver =
      object({{"properties", object({{"driver", object({{"const", text_of(name)}})}})}});
  return object({{"if", is_driver}, {"then", object(consequence)}});
}

std::string driver_section(const Section& section, const std::vector<std::string>& names,
                           const std::vector<std::string>& rules) {
  Members members = section_members(section);
  std::vector<std::string> all{
      object({{"properties", object({{"driver", object({{"enum", array(names)}})}})}})};
  all.insert(all.end(), rules.begin(), rules.end());
  members.emplace_back("allOf", array(all));
  return object(members);
}

std::string output_definition() {
  std::vector<std::string> names;
  std::vector<std::string> rules;
  for (const auto* driver : drivers::output_drivers()) {
    names.push_back(text_of(driver->name));
    rules.push_back(driver_rule(driver->name, driver->params, {}));
  }
  return driver_section(kOutputSection, names, rules);
}

std::string sensor_definition() {
  std::vector<std::string> names;
  std::vector<std::string> rules;
  for (const auto* driver : drivers::sensor_drivers()) {
    names.push_back(text_of(driver->name));
    rules.push_back(driver_rule(driver->name, driver->params, driver->channels));
  }
  return driver_section(kSensorSection, names, rules);
}

}  // namespace

std::string json_schema() {
  Members members{{"$schema", text_of("http://json-schema.org/draft-07/schema#")},
                  {"title", text_of("neap settings")}};
  for (auto& member : section_members(root_section())) members.push_back(std::move(member));
  members.emplace_back("definitions",
                       object({{"output", output_definition()}, {"sensor", sensor_definition()}}));
  return indented(object(members));
}

}  // namespace neap::settings
