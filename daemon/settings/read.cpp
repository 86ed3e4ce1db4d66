#include "daemon/settings/read.h"

#include <algorithm>

namespace neap::settings {
namespace {

bool is_map(Walk& walk, const Node& node, const std::string& path, std::string_view name) {
  if (node.kind == NodeKind::map) return true;
  if (node.kind != NodeKind::refused)
    walk.report.add(node.place, path,
                    std::string(name) + " is " + written(node) + "; must be a group of keys",
                    "write \"" + std::string(name) + ":\" and its keys indented below it");
  return false;
}

// Where else the schema knows a key of that name: people remember the word, not the group.
std::string home_of(std::string_view key, const Section& section, const std::string& path) {
  for (const auto& row : section.keys) {
    if (row.name == key) return path.empty() ? "the top level" : path;
    if (row.section == nullptr) continue;
    std::string found = home_of(key, *row.section, join(path, row.name));
    if (!found.empty()) return found;
  }
  return {};
}

void report_unknown_keys(Walk& walk, const Section& section, const Node& node,
                         const std::string& path) {
  std::vector<std::string_view> known;
  for (const auto& row : section.keys) known.push_back(row.name);
  for (const auto& key : node.keys) {
    if (key.kind != NodeKind::scalar) continue;
    if (std::find(known.begin(), known.end(), key.text) != known.end()) continue;
    report_unknown(walk, key, path, known, section.name);
  }
}

void read_group(Walk& walk, const Key& key, const Node& node, const std::string& path) {
  if (node.kind == NodeKind::scalar && !key.section->instead.empty() &&
      node.text == key.section->instead) {
    walk.draft.sound.insert(path);
    return;
  }
  read_section(walk, *key.section, node, path);
}

void read_list(Walk& walk, const Key& key, const Node& node, const std::string& path) {
  if (node.kind == NodeKind::refused) return;
  if (node.kind != NodeKind::list || node.items.empty()) {
    walk.report.add(
        node.place, path,
        std::string(key.name) + " is " + written(node) + "; must be a list of at least one group",
        "begin each with \"- \"");
    return;
  }
  for (std::size_t i = 0; i < node.items.size(); ++i) {
    const Node* name = node.items[i].find("name");
    const bool named = name != nullptr && name->kind == NodeKind::scalar && is_word(name->text);
    std::string item = path + "[" + (named ? name->text : std::to_string(i + 1)) + "]";
    if (walk.draft.given(item)) item = path + "[" + std::to_string(i + 1) + "]";
    const std::size_t stages = walk.draft.plan.programme.stages.size();
    read_section(walk, *key.section, node.items[i], item);
    if (walk.draft.plan.programme.stages.size() > stages) walk.draft.stage_paths.push_back(item);
  }
}

void read_outputs(Walk& walk, const Key& key, const Node& node, const std::string& path) {
  if (!is_map(walk, node, path, key.name)) return;
  std::vector<std::string_view> known;
  for (const auto& row : kOutputs) known.push_back(row.name);
  for (std::size_t i = 0; i < node.items.size(); ++i) {
    const Node& name = node.keys[i];
    if (name.kind != NodeKind::scalar) continue;
    if (find_output(name.text) == nullptr) {
      report_unknown(walk, name, path, known, "outputs");
      continue;
    }
    walk.draft.places[join(path, name.text)] = name.place;
    read_section(walk, *key.section, node.items[i], join(path, name.text));
  }
}

void read_named(Walk& walk, const Key& key, const Node& node, const std::string& path) {
  if (!is_map(walk, node, path, key.name)) return;
  for (std::size_t i = 0; i < node.items.size(); ++i) {
    const Node& name = node.keys[i];
    if (name.kind != NodeKind::scalar) continue;
    if (!is_word(name.text)) {
      walk.report.add(
          name.place, path,
          "the name " + in_quotes(name.text) + " must be " + std::string(info(Kind::word).title),
          "write for example \"canopy\"");
      continue;
    }
    walk.draft.places[join(path, name.text)] = name.place;
    read_section(walk, *key.section, node.items[i], join(path, name.text));
  }
}

// A value of the schema's own kinds; `node` may be a default that stands in no file.
void read_single(Walk& walk, const Key& key, const Node& node, const std::string& path) {
  auto result = read_value(key.name, node, key.rule());
  if (auto* bad = std::get_if<Complaint>(&result)) {
    walk.report.add(node.place, path, std::move(bad->message), std::move(bad->remedy));
    return;
  }
  walk.draft.sound.insert(path);
  if (key.set != nullptr) key.set(walk.draft, std::get<Value>(result));
}

// A scalar stands where its value is, a group where its key is.
Place place_of(const Node& key_node, const Node& node) {
  return node.kind == NodeKind::scalar ? node.place : key_node.place;
}

void read_given(Walk& walk, const Key& key, const Node& key_node, const Node& node,
                const std::string& path) {
  walk.draft.places[path] = place_of(key_node, node);
  if (node.kind == NodeKind::refused) return;
  switch (key.kind) {
    case Kind::section:
      return read_group(walk, key, node, path);
    case Kind::section_list:
      return read_list(walk, key, node, path);
    case Kind::section_names:
      return read_named(walk, key, node, path);
    case Kind::section_outputs:
      return read_outputs(walk, key, node, path);
    case Kind::driver_params:
      return read_driver_params(walk, &node, path);
    case Kind::channel_points:
      return read_channel_points(walk, node, path);
    case Kind::offsets:
      return read_offsets(walk, node, path);
    case Kind::plant_parameters:
      return read_plant_parameters(walk, node, path);
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
      return read_single(walk, key, node, path);
  }
}

// Defaults of a group that is not in the file at all.
void read_absent(Walk& walk, const Key& key, const std::string& path);

void fill_defaults(Walk& walk, const Section& section, const std::string& path) {
  for (const auto& key : section.keys) read_absent(walk, key, join(path, key.name));
}

bool all_defaulted(const Section& section) {
  return std::all_of(section.keys.begin(), section.keys.end(), [](const Key& key) {
    return key.need != Need::required &&
           (key.section == nullptr || (key.kind == Kind::section && all_defaulted(*key.section)));
  });
}

void read_absent(Walk& walk, const Key& key, const std::string& path) {
  if (key.kind == Kind::driver_params) return read_driver_params(walk, nullptr, path);
  if (key.need == Need::defaulted) {
    Node node;
    node.kind = NodeKind::scalar;
    node.text = std::string(key.text);
    read_single(walk, key, node, path);
  }
  // A group without begin() is part of every plan; one with begin() exists only when written.
  if (key.kind == Kind::section && key.need == Need::optional && key.section->begin == nullptr &&
      all_defaulted(*key.section))
    fill_defaults(walk, *key.section, path);
}

}  // namespace

std::string join(const std::string& path, std::string_view name) {
  return path.empty() ? std::string(name) : path + "." + std::string(name);
}

void report_unknown(Walk& walk, const Node& key, const std::string& path,
                    const std::vector<std::string_view>& known, std::string_view what) {
  std::string remedy;
  if (const std::string near = nearest(key.text, known); !near.empty()) {
    remedy = "did you mean " + in_quotes(near) + "?";
  } else if (const std::string home = home_of(key.text, root_section(), ""); !home.empty()) {
    remedy = key.text + " belongs under " + home;
  } else if (known.size() > 21) {
    remedy = "config/reference.yaml lists those it has";
  } else {
    remedy = "known here:";
    for (const auto word : known) remedy += " " + std::string(word);
  }
  walk.report.add(key.place, join(path, key.text),
                  std::string(what) + " has no key " + in_quotes(key.text), remedy);
}

void read_section(Walk& walk, const Section& section, const Node& node, const std::string& path) {
  walk.draft.places.emplace(path, node.place);
  if (!path.empty() && !is_map(walk, node, path, section.name)) return;
  if (section.begin != nullptr) {
    const std::size_t dot = path.rfind('.');
    section.begin(walk.draft, dot == std::string::npos ? path : path.substr(dot + 1));
  }
  report_unknown_keys(walk, section, node, path);
  for (const auto& key : section.keys) {
    const std::string key_path = join(path, key.name);
    if (const Node* given = node.find(key.name)) {
      read_given(walk, key, *node.find_key(key.name), *given, key_path);
    } else if (key.need == Need::required) {
      std::string remedy = "add for example \"" + std::string(key.name) + ": " +
                           std::string(key.text) + "\": " + std::string(key.why);
      if (key.text.empty())
        remedy = "add the group \"" + std::string(key.name) + ":\": " + std::string(key.why);
      walk.report.add(walk.draft.place_of(path), key_path,
                      std::string(section.name) + " has no " + std::string(key.name), remedy);
    } else {
      read_absent(walk, key, key_path);
    }
  }
  if (section.end != nullptr) section.end(walk.draft);
}

}  // namespace neap::settings
