// What one scalar of the settings means, by the kind of its key; quantity.h tells the scheme.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "daemon/core/instant.h"
#include "daemon/core/units.h"
#include "daemon/settings/node.h"
#include "daemon/settings/quantity.h"

namespace neap::settings {

struct Value {
  double number = 0;               // in the kind's base unit; a band's low end
  double high = 0;                 // a band's high end
  std::size_t index = 0;           // choice: which; depth: 0 float, 1 litres
  std::string text;                // as written
  std::vector<std::int32_t> list;  // clocks, durations: seconds
  std::vector<std::string> words;  // command

  Millis millis() const { return Millis{static_cast<std::int64_t>(number * 1000.0)}; }
  std::int32_t whole() const { return static_cast<std::int32_t>(number); }
  Permille permille() const { return Permille{static_cast<int>(number)}; }
  bool truth() const { return index == 1; }
};

// The rule that one value must keep. Bounds are in the base unit; absent = any.
struct Rule {
  Kind kind = Kind::text;
  std::optional<double> low;
  std::optional<double> high;
  std::string_view choices;  // "a b c"
  std::string_view why;
};

// `name` stands at the front of the message.
std::variant<Value, Complaint> read_value(std::string_view name, const Node& node,
                                          const Rule& rule);

std::string written(const Node& node);  // "40 min", "a list", "nothing"
std::vector<std::string_view> split_words(std::string_view words);
bool is_word(std::string_view text);  // the rule of Kind::word

}  // namespace neap::settings
