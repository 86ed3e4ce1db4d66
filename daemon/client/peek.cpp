#include "daemon/client/peek.h"

#include <cmath>

#include "daemon/words/words.h"

namespace neap::client {

using nlohmann::json;

const json* at(const json& value, const char* path) {
  const json::json_pointer pointer(path);
  if (!value.contains(pointer)) return nullptr;
  const json& found = value.at(pointer);
  return found.is_null() ? nullptr : &found;
}

std::string text_at(const json& value, const char* path) {
  const json* found = at(value, path);
  return found != nullptr && found->is_string() ? words::printable(found->get<std::string>())
                                                : std::string();
}

std::optional<double> number_at(const json& value, const char* path) {
  const json* found = at(value, path);
  if (found == nullptr || !found->is_number()) return std::nullopt;
  return found->get<double>();
}

std::optional<Millis> length_at(const json& value, const char* path) {
  constexpr double kFarAway = 4e9;  // s: over a century
  const auto seconds_long = number_at(value, path);
  if (!seconds_long || !(std::abs(*seconds_long) < kFarAway)) return std::nullopt;
  return Millis{std::llround(*seconds_long * 1000)};
}

bool true_at(const json& value, const char* path) {
  const json* found = at(value, path);
  return found != nullptr && found->is_boolean() && found->get<bool>();
}

const json& list_at(const json& value, const char* path) {
  static const json kEmpty = json::array();
  const json* found = at(value, path);
  return found != nullptr && found->is_array() ? *found : kEmpty;
}

}  // namespace neap::client
