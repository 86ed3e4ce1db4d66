#include <charconv>
#include <system_error>

#include "drivers/driver.h"

namespace neap::drivers {
namespace {

const std::string* scalar(const Params& params, std::string_view name) {
  const auto found = params.scalars().find(name);
  return found == params.scalars().end() ? nullptr : &found->second;
}

}  // namespace

std::string Params::text(std::string_view name) const {
  const std::string* value = scalar(*this, name);
  return value ? *value : std::string{};
}

double Params::number(std::string_view name) const {
  const std::string* value = scalar(*this, name);
  if (!value) return 0;
  double parsed = 0;
  const char* end = value->data() + value->size();
  const auto [stop, error] = std::from_chars(value->data(), end, parsed);
  return error == std::errc{} && stop == end ? parsed : 0;
}

std::int64_t Params::integer(std::string_view name) const {
  const std::string* value = scalar(*this, name);
  if (!value) return 0;
  const bool hexadecimal = value->starts_with("0x");
  const char* begin = value->data() + (hexadecimal ? 2 : 0);
  const char* end = value->data() + value->size();
  std::int64_t parsed = 0;
  const auto [stop, error] = std::from_chars(begin, end, parsed, hexadecimal ? 16 : 10);
  return error == std::errc{} && stop == end ? parsed : 0;
}

bool Params::truth(std::string_view name) const {
  const std::string* value = scalar(*this, name);
  return value && *value == "true";
}

std::vector<std::string> Params::words(std::string_view name) const {
  const auto found = words_.find(name);
  return found == words_.end() ? std::vector<std::string>{} : found->second;
}

Params completed(const Params& given, std::span<const ParamSpec> specs) {
  Params all = given;
  for (const ParamSpec& spec : specs) {
    const bool has_fallback = !spec.required && !spec.fallback.empty();
    if (has_fallback && !scalar(given, spec.name))
      all.set(std::string{spec.name}, std::string{spec.fallback});
  }
  return all;
}

}  // namespace neap::drivers
