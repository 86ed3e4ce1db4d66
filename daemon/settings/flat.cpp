#include "daemon/settings/flat.h"

#include "daemon/settings/node.h"
#include "daemon/settings/read.h"
#include "daemon/settings/schema.h"
#include "daemon/settings/value.h"
#include "drivers/driver.h"

namespace neap::settings {
namespace {

class Flattener {
 public:
  std::vector<Said> take() { return std::move(said_); }

  // `node` is nullptr for a group that is not in the file.
  void section(const Section& section, const Node* node, const std::string& path) {
    for (const auto& key : section.keys) {
      const Node* given = node == nullptr ? nullptr : node->find(key.name);
      this->key(key, given, join(path, key.name));
      if (key.name == "driver" && given != nullptr) driver_ = given->text;
    }
  }

 private:
  void key(const Key& key, const Node* node, const std::string& path) {
    switch (key.kind) {
      case Kind::section:
        return group(key, node, path);
      case Kind::section_list:
        return list(key, node, path);
      case Kind::section_names:
      case Kind::section_outputs:
        return names(key, node, path);
      case Kind::driver_params:
        return driver_params(node, path);
      case Kind::channel_points:
      case Kind::offsets:
      case Kind::plant_parameters:
        return pairs(node, path);
      case Kind::truth:
      case Kind::text:
      case Kind::word:
      case Kind::choice:
      case Kind::count:
      case Kind::number:
      case Kind::duration:
      case Kind::temperature:
      case Kind::temperature_difference:
      case Kind::percent:
      case Kind::level:
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
      case Kind::clock:
      case Kind::date:
      case Kind::vpd_band:
      case Kind::temperature_band:
      case Kind::ph_band:
      case Kind::ec_band:
      case Kind::volume_band:
      case Kind::depth:
      case Kind::clocks:
      case Kind::durations:
      case Kind::command:
        return single(key, node, path);
    }
  }

  void group(const Key& key, const Node* node, const std::string& path) {
    if (node != nullptr && node->kind == NodeKind::scalar)
      said_.push_back({path, node->text, node->text, node->place});
    else if (node != nullptr || key.section->begin == nullptr)
      section(*key.section, node, path);
  }

  void list(const Key& key, const Node* node, const std::string& path) {
    for (std::size_t i = 0; node != nullptr && i < node->items.size(); ++i) {
      const Node* name = node->items[i].find("name");
      const std::string label = name != nullptr ? name->text : std::to_string(i + 1);
      section(*key.section, &node->items[i], path + "[" + label + "]");
    }
  }

  void names(const Key& key, const Node* node, const std::string& path) {
    for (std::size_t i = 0; node != nullptr && i < node->items.size(); ++i)
      section(*key.section, &node->items[i], join(path, node->keys[i].text));
  }

  void driver_params(const Node* node, const std::string& path) {
    const bool output = path.starts_with("outputs.");
    const auto* for_output = output ? drivers::find_output_driver(driver_) : nullptr;
    const auto* for_sensor = output ? nullptr : drivers::find_sensor_driver(driver_);
    std::span<const drivers::ParamSpec> specs;
    if (for_output != nullptr) specs = for_output->params;
    if (for_sensor != nullptr) specs = for_sensor->params;
    for (const auto& spec : specs) {
      const Node* given = node == nullptr ? nullptr : node->find(spec.name);
      if (given != nullptr)
        plain(*given, join(path, spec.name));
      else if (!spec.fallback.empty())
        said_.push_back(
            {join(path, spec.name), std::string(spec.fallback), std::string(spec.fallback), {}});
    }
  }

  void pairs(const Node* node, const std::string& path) {
    for (std::size_t i = 0; node != nullptr && i < node->items.size(); ++i)
      plain(node->items[i], join(path, node->keys[i].text));
  }

  void plain(const Node& node, const std::string& path) {
    std::string text = node.text;
    for (const auto& item : node.items) text += (text.empty() ? "" : " ") + item.text;
    said_.push_back({path, text, text, node.place});
  }

  void single(const Key& key, const Node* node, const std::string& path) {
    Node fallback;
    fallback.kind = NodeKind::scalar;
    fallback.text = std::string(key.text);
    if (node == nullptr && key.need != Need::defaulted) return;
    const Node& used = node == nullptr ? fallback : *node;
    const auto result = read_value(key.name, used, key.rule());
    const auto* value = std::get_if<Value>(&result);
    if (value == nullptr) return;
    std::string same = format_number(value->number) + ".." + format_number(value->high) + "#" +
                       std::to_string(value->index);
    for (const auto item : value->list) same += "," + std::to_string(item);
    if (key.kind == Kind::text || key.kind == Kind::word || key.kind == Kind::command)
      same = value->text;
    said_.push_back({path, value->text, same, node == nullptr ? Place{} : node->place});
  }

  std::vector<Said> said_;
  std::string driver_;  // of the group under way
};

}  // namespace

std::vector<Said> flatten(std::string_view text) {
  const Source source(text);
  Report report;
  Flattener flattener;
  if (const auto root = parse(source, report)) flattener.section(root_section(), &*root, "");
  return flattener.take();
}

}  // namespace neap::settings
