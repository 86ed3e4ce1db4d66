// The settings as a tree of our own, built from the YAML parser's events. What settings refuse of
// YAML (anchors, aliases, tags, merge keys, text over several lines, a second document, duplicate
// keys, depth, size) never gets into it, so no walk over it can explode or loop.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/settings/source.h"

namespace neap::settings {

enum class NodeKind : std::uint8_t {
  empty,    // "key:" with nothing after it
  refused,  // already reported; readers pass over it in silence
  scalar,
  list,
  map,
};

struct Node {
  NodeKind kind = NodeKind::empty;
  Place place;
  std::string text;         // scalar
  bool quoted = false;      // scalar in quotes
  std::vector<Node> keys;   // map: scalars, as many as items
  std::vector<Node> items;  // list, map

  // Of a map; nullptr when absent.
  const Node* find(std::string_view key) const;
  const Node* find_key(std::string_view key) const;
};

// Nothing when the text is no YAML at all or went over a limit; the report says why.
std::optional<Node> parse(const Source& source, Report& report);

}  // namespace neap::settings
