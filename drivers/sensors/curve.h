// A calibration curve as settings write it: pairs of what the converter reads and what that means,
// "1500 mV = 7.00 pH". Linear between two pairs.
#pragma once

#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace neap::drivers {

class Curve {
 public:
  struct Pair {
    double reading;
    double value;
  };
  // The pairs of `words` in any order; or, in one sentence, what is wrong: at least two, each
  // "number unit = number unit" in just these units, no reading twice, and values that only rise or
  // only fall with the reading: of anything else one reading would not tell the value, or a pair
  // was mistyped.
  static std::variant<Curve, std::string> parse(const std::vector<std::string>& words,
                                                std::string_view reading_unit,
                                                std::string_view value_unit);

  // Beyond the outermost pairs their line goes on.
  double at(double reading) const;
  const Pair& first() const { return pairs_.front(); }  // of the lowest reading
  const Pair& last() const { return pairs_.back(); }

 private:
  std::vector<Pair> pairs_;  // two or more, readings rising
};

}  // namespace neap::drivers
