#include "drivers/sensors/curve.h"

#include <algorithm>
#include <array>
#include <optional>

#include "drivers/bus/sysfs.h"

namespace neap::drivers {
namespace {

std::string_view trimmed(std::string_view text) {
  while (text.starts_with(' ')) text.remove_prefix(1);
  while (text.ends_with(' ')) text.remove_suffix(1);
  return text;
}

// "1500 mV" in `unit` mV.
std::optional<double> quantity(std::string_view text, std::string_view unit) {
  text = trimmed(text);
  if (!text.ends_with(unit)) return std::nullopt;
  text.remove_suffix(unit.size());
  return sysfs::parse_decimal(trimmed(text));
}

std::optional<Curve::Pair> pair_of(std::string_view word, std::string_view reading_unit,
                                   std::string_view value_unit) {
  const std::size_t equals = word.find('=');
  if (equals == word.npos) return std::nullopt;
  const auto reading = quantity(word.substr(0, equals), reading_unit);
  const auto value = quantity(word.substr(equals + 1), value_unit);
  if (!reading || !value) return std::nullopt;
  return Curve::Pair{*reading, *value};
}

// Do the values only rise, or only fall?
bool one_way(const std::vector<Curve::Pair>& pairs) {
  const bool rises = pairs[0].value < pairs[1].value;
  for (std::size_t i = 1; i < pairs.size(); ++i) {
    const double step = pairs[i].value - pairs[i - 1].value;
    if (rises ? step <= 0 : step >= 0) return false;
  }
  return true;
}

}  // namespace

std::variant<Curve, std::string> Curve::parse(const std::vector<std::string>& words,
                                              std::string_view reading_unit,
                                              std::string_view value_unit) {
  Curve curve;
  for (const std::string& word : words) {
    const auto pair = pair_of(word, reading_unit, value_unit);
    if (!pair)
      return "curve has \"" + word + "\"; must be a reading and its value, as \"1500 " +
             std::string{reading_unit} + " = 7 " + std::string{value_unit} + "\"";
    curve.pairs_.push_back(*pair);
  }
  auto& pairs = curve.pairs_;
  if (pairs.size() < 2) return std::string{"curve must have at least two pairs"};
  std::sort(pairs.begin(), pairs.end(),
            [](const Pair& a, const Pair& b) { return a.reading < b.reading; });
  for (std::size_t i = 1; i < pairs.size(); ++i)
    if (pairs[i].reading == pairs[i - 1].reading)
      return std::string{"curve has a reading twice; measure each once"};
  if (!one_way(pairs))
    return std::string{
        "the values of curve must only rise or only fall with the reading; look for "
        "a pair that was mistyped"};
  return curve;
}

double Curve::at(double reading) const {
  std::size_t upper = 1;
  while (upper + 1 < pairs_.size() && reading > pairs_[upper].reading) ++upper;
  const Pair& a = pairs_[upper - 1];
  const Pair& b = pairs_[upper];
  return a.value + (reading - a.reading) / (b.reading - a.reading) * (b.value - a.value);
}

}  // namespace neap::drivers
