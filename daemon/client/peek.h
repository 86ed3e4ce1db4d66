// Careful access to JSON that came from elsewhere: what is missing or of another type is absent.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "daemon/core/instant.h"

namespace neap::client {

// `path` is a JSON pointer, such as "/flood/next/in_s".
const nlohmann::json* at(const nlohmann::json& value, const char* path);
std::string text_at(const nlohmann::json& value, const char* path);  // printable; empty: absent
std::optional<double> number_at(const nlohmann::json& value, const char* path);
std::optional<Millis> length_at(const nlohmann::json& value, const char* path);  // of seconds
bool true_at(const nlohmann::json& value, const char* path);
const nlohmann::json& list_at(const nlohmann::json& value, const char* path);  // maybe empty

}  // namespace neap::client
