// Figures with their units, shared by values and sentences.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "daemon/words/words.h"

namespace neap::words {

constexpr double kLitresPerGallon = 3.785411784;  // US liquid gallon, NIST SP 811, exact

// Fixed decimals, never "-0.0"; "no number" for what is none.
std::string decimals(double v, int digits);
// "24.3 C" or "75.7 F", from degC.
std::string temperature(double celsius, const Style& style);
// "1.2 K" or "2.2 F", from kelvin.
std::string temperature_difference(double kelvin, const Style& style);
// "12.5 L" or "3.3 gal" (US liquid gallon), from litres.
std::string volume(double litres, const Style& style);
// `a` - `b` as a reader works it out from what volume() shows of them.
std::string volume_difference(double a, double b, const Style& style);
// Text with its places filled in, as daemon/core/reason.h describes them.
std::string filled(std::string_view text, const Because& because, const Style& style);
// What remedy() fills in: empty where the sentence says it already, none where nothing is refused.
std::optional<std::string_view> remedy_template(Reason reason);

}  // namespace neap::words
