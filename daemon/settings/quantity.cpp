#include "daemon/settings/quantity.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cstdio>
#include <optional>

namespace neap::settings {
namespace {

// Factors are exact by definition (SI; yard, pound and US gallon of 1959: 0.3048 m, 3.785411784 L).
constexpr double kGallon = 3.785411784;
constexpr double kFoot3 = 0.028316846592;
constexpr std::array kDuration{Unit{"s", 1}, Unit{"min", 60}, Unit{"h", 3600}, Unit{"d", 86400}};
constexpr std::array kTemperature{Unit{"C", 1}, Unit{"F", 5.0 / 9.0, -160.0 / 9.0}};
constexpr std::array kDifference{Unit{"K", 1}, Unit{"F", 5.0 / 9.0}};
constexpr std::array kPercent{Unit{"%", 1}};
constexpr std::array kLevel{Unit{"%", 10}};
constexpr std::array kLevelRate{Unit{"%/min", 10}};
constexpr std::array kVolume{Unit{"L", 1}, Unit{"gal", kGallon}};
constexpr std::array kFlow{Unit{"L/h", 1}, Unit{"L/min", 60}, Unit{"L/d", 1.0 / 24},
                           Unit{"mL/h", 0.001}, Unit{"gal/h", kGallon}};
constexpr std::array kAirFlow{Unit{"m3/h", 1}, Unit{"cfm", kFoot3 * 60}};
constexpr std::array kSpace{Unit{"m3", 1}, Unit{"L", 0.001}, Unit{"ft3", kFoot3}};
constexpr std::array kHeight{Unit{"m", 1}, Unit{"ft", 0.3048}};
constexpr std::array kLength{Unit{"mm", 1}, Unit{"cm", 10}, Unit{"m", 1000}, Unit{"in", 25.4}};
constexpr std::array kConductivity{Unit{"mS/cm", 1}, Unit{"uS/cm", 0.001}, Unit{"dS/m", 1}};
constexpr std::array kDose{Unit{"mL/L", 1}, Unit{"mL/gal", 1 / kGallon}};
constexpr std::array kVpdHours{Unit{"kPa h", 1}};
constexpr std::array kPower{Unit{"W", 1}, Unit{"kW", 1000}};
constexpr std::array kPh{Unit{"pH", 1}};
constexpr std::array kVpd{Unit{"kPa", 1}, Unit{"hPa", 0.1}};

constexpr std::array kKinds{
    KindInfo{Kind::truth, "true or false", "true", {}},
    KindInfo{Kind::text, "text of 1 to 128 characters", "box-room", {}},
    KindInfo{Kind::word, "a name in lower case, digits, _ and -", "leafing", {}},
    KindInfo{Kind::choice, "one word of a list", "", {}},
    KindInfo{Kind::count, "a whole number", "3", {}},
    KindInfo{Kind::number, "a plain decimal number", "1.5", {}},
    KindInfo{Kind::duration, "a duration with its unit", "6 min", kDuration},
    KindInfo{Kind::temperature, "a temperature with its unit", "24.5 C", kTemperature},
    KindInfo{Kind::temperature_difference, "a temperature difference with its unit", "1.5 K",
             kDifference},
    KindInfo{Kind::percent, "a percentage", "40 %", kPercent},
    KindInfo{Kind::level, "stopped, running or a percentage", "40 %", kLevel},
    KindInfo{Kind::level_rate, "a percentage a minute", "20 %/min", kLevelRate},
    KindInfo{Kind::volume, "a volume with its unit", "26 L", kVolume},
    KindInfo{Kind::flow, "a flow with its unit", "900 L/h", kFlow},
    KindInfo{Kind::air_flow, "an air flow with its unit", "150 m3/h", kAirFlow},
    KindInfo{Kind::space, "a volume of air with its unit", "1.9 m3", kSpace},
    KindInfo{Kind::height, "a height with its unit", "20 m", kHeight},
    KindInfo{Kind::length, "a length with its unit", "32 mm", kLength},
    KindInfo{Kind::conductivity, "an electrical conductivity with its unit", "1.4 mS/cm",
             kConductivity},
    KindInfo{Kind::dose, "a dose of stock solution with its unit", "2 mL/L", kDose},
    KindInfo{Kind::vpd_hours, "VPD over time with its unit", "3 kPa h", kVpdHours},
    KindInfo{Kind::power, "a power with its unit", "120 W", kPower},
    KindInfo{Kind::clock, "a clock time of 24 hours", "\"06:00\"", {}},
    KindInfo{Kind::date, "a date, year-month-day", "2026-03-02", {}},
    KindInfo{Kind::vpd_band, "a band, low..high with the unit", "0.8..1.2 kPa", kVpd, true},
    KindInfo{Kind::temperature_band, "a band, low..high with the unit", "16..29 C", kTemperature,
             true},
    KindInfo{Kind::ph_band, "a band, low..high with the unit", "5.5..6.2 pH", kPh, true},
    KindInfo{Kind::ec_band, "a band, low..high with the unit", "1.2..1.8 mS/cm", kConductivity,
             true},
    KindInfo{Kind::volume_band, "a band, low..high with the unit", "30..60 L", kVolume, true},
    KindInfo{Kind::depth, "float, or a volume with its unit", "float", kVolume},
    KindInfo{Kind::clocks, "a list of clock times", "[\"08:00\", \"14:00\"]", {}},
    KindInfo{Kind::durations, "a list of durations", "[30 min, 5 h]", kDuration},
    KindInfo{Kind::command,
             "a list of 1 to 16 words of at most 255 characters, the first an absolute path",
             "[/usr/local/bin/ring, loudly]",
             {}},
    KindInfo{Kind::section, "a group of keys", "", {}},
    KindInfo{Kind::section_list, "a list of groups", "", {}},
    KindInfo{Kind::section_names, "groups of keys by name", "", {}},
    KindInfo{Kind::section_outputs, "groups of keys by output", "", {}},
    KindInfo{Kind::driver_params, "parameters of the driver by name", "", {}},
    KindInfo{Kind::channel_points, "points by channel", "", {}},
    KindInfo{Kind::offsets, "offsets by point", "", {}},
    KindInfo{Kind::plant_parameters, "numbers by parameter", "", {}},
};

// Spellings that people use for our units.
struct Spelling {
  std::string_view seen;
  std::string_view unit;
};
constexpr std::array kSpellings{
    Spelling{"sec", "s"},       Spelling{"secs", "s"},      Spelling{"second", "s"},
    Spelling{"seconds", "s"},   Spelling{"m", "min"},       Spelling{"mins", "min"},
    Spelling{"minute", "min"},  Spelling{"minutes", "min"}, Spelling{"hr", "h"},
    Spelling{"hrs", "h"},       Spelling{"hour", "h"},      Spelling{"hours", "h"},
    Spelling{"day", "d"},       Spelling{"days", "d"},      Spelling{"°c", "C"},
    Spelling{"°f", "F"},        Spelling{"litre", "L"},     Spelling{"litres", "L"},
    Spelling{"liter", "L"},     Spelling{"liters", "L"},    Spelling{"gallon", "gal"},
    Spelling{"gallons", "gal"}, Spelling{"percent", "%"},   Spelling{"pct", "%"},
    Spelling{"m³/h", "m3/h"},   Spelling{"m³", "m3"},       Spelling{"lph", "L/h"},
    Spelling{"gph", "gal/h"},   Spelling{"c", "K"},
};

// What a foreign spelling was meant to be, if that is one of `units`.
std::string_view meant(std::string_view seen, std::span<const Unit> units) {
  const std::string small = lower_case(seen);
  for (const auto& unit : units)
    if (lower_case(unit.name) == small) return unit.name;
  for (const auto& row : kSpellings)
    for (const auto& unit : units)
      if (row.seen == small && row.unit == unit.name) return unit.name;
  return {};
}

// Length of what may be a number at the front; ".." ends it, as in a band.
std::size_t number_length(std::string_view text) {
  std::size_t n = 0;
  while (n < text.size() &&
         (std::isdigit(static_cast<unsigned char>(text[n])) != 0 ||
          (n == 0 && (text[n] == '-' || text[n] == '+')) ||
          (text[n] == '.' && !text.substr(n).starts_with("..")) || text[n] == '_'))
    ++n;
  return n;
}

std::optional<Unit> unit_of(std::string_view name, std::span<const Unit> units) {
  for (const auto& unit : units)
    if (unit.name == name) return unit;
  return std::nullopt;
}

// A unit of two words is known by its end; any other is what follows the last space.
Split split_by(std::string_view text, std::span<const Unit> units) {
  for (const auto& unit : units) {
    const bool two_words = unit.name.find(' ') != std::string_view::npos;
    if (two_words && text.ends_with(unit.name) && text.size() > unit.name.size()) {
      const std::string_view number = text.substr(0, text.size() - unit.name.size());
      return {number.substr(0, number.find_last_not_of(' ') + 1), unit.name};
    }
  }
  return split_quantity(text);
}

double to_base(double value, const Unit& unit) { return value * unit.factor + unit.offset; }

// What a number without unit could have meant: "45 L" or "45 gal".
std::string with_units(std::string_view number, std::span<const Unit> units) {
  std::string out = "write the unit:";
  for (std::size_t i = 0; i < units.size() && i < 2; ++i)
    out += (i > 0 ? " or " : " ") +
           ("\"" + std::string(number) + " " + std::string(units[i].name) + "\"");
  return out;
}

}  // namespace

const KindInfo& info(Kind kind) { return kKinds[static_cast<std::size_t>(kind)]; }

std::variant<double, Complaint> read_decimal(std::string_view text) {
  std::string_view rest = text;
  if (rest.starts_with('-')) rest.remove_prefix(1);
  const auto only = [](std::string_view s) {
    return !s.empty() &&
           std::all_of(s.begin(), s.end(), [](char c) { return c >= '0' && c <= '9'; });
  };
  const std::size_t dot = rest.find('.');
  const std::string_view before = rest.substr(0, dot);
  const bool has_point = dot != std::string_view::npos;
  const bool shaped = only(before) && (!has_point || only(rest.substr(dot + 1)));
  if (shaped && rest.size() <= 15) {
    if (before.size() > 1 && before.front() == '0')
      return Complaint{"has a leading zero, which some readers take as octal",
                       "write it without the leading zero"};
    double value = 0;
    std::from_chars(text.data(), text.data() + text.size(), value);
    return value;
  }
  if (shaped) return Complaint{"has more than 14 digits", "round it"};
  struct Slip {
    std::string_view part;
    std::string_view message;
    std::string_view remedy;
  };
  constexpr std::array kSlips{
      Slip{"_", "has an underscore", "write the digits without underscores"},
      Slip{",", "has a comma", "write a point for the decimals and nothing for thousands"},
      Slip{"0x", "is hexadecimal", "write it in decimals"},
      Slip{"nan", "is no finite number", "write a number, or leave the key out"},
      Slip{"inf", "is no finite number", "write a number, or leave the key out"},
  };
  const std::string small = lower_case(text);
  const std::size_t digit_run = rest.find_first_not_of("0123456789.");
  if (digit_run != std::string_view::npos && digit_run > 0 &&
      small.substr(text.size() - rest.size())[digit_run] == 'e')
    return Complaint{"has an exponent", "write it out in digits"};
  for (const auto& slip : kSlips)
    if (small.find(slip.part) != std::string::npos)
      return Complaint{std::string(slip.message), std::string(slip.remedy)};
  return Complaint{"is no plain decimal", "write digits, and a point before decimals: 1.5"};
}

Split split_quantity(std::string_view text) {
  const std::size_t space = text.rfind(' ');
  if (space != std::string_view::npos) return {text.substr(0, space), text.substr(space + 1)};
  const std::size_t length = number_length(text);
  return {text.substr(0, length), text.substr(length)};
}

std::variant<double, Complaint> read_quantity(std::string_view name, std::string_view text,
                                              std::span<const Unit> units,
                                              std::string_view example) {
  const std::string is = std::string(name) + " is " + shown(text);
  const std::string write_example =
      "write for example \"" + std::string(name) + ": " + std::string(example) + "\"";
  const Split split = split_by(text, units);
  if (const auto unit = unit_of(split.unit, units)) {
    auto number = read_decimal(split.number);
    if (const auto* value = std::get_if<double>(&number)) return to_base(*value, *unit);
    auto& bad = std::get<Complaint>(number);
    return Complaint{is + "; must be a plain decimal and its unit, but the number " + bad.message,
                     std::move(bad.remedy)};
  }
  const std::string in_units = is + "; must be a number in " + list_units(units);
  const auto number = read_decimal(split.number);
  if (!std::holds_alternative<double>(number)) return Complaint{in_units, write_example};
  if (split.unit.empty()) return Complaint{in_units, with_units(split.number, units)};
  const std::string_view near = meant(split.unit, units);
  if (near.empty()) return Complaint{in_units, write_example};
  return Complaint{in_units,
                   "write \"" + std::string(split.number) + " " + std::string(near) + "\""};
}

std::string format_number(double value) {
  std::array<char, 32> buffer{};
  const auto [end, error] =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed);
  if (error == std::errc{}) return std::string(buffer.data(), end);
  return std::to_string(value);
}

std::string format_seconds(std::int64_t seconds) {
  if (seconds == 0) return "0 s";
  for (std::size_t i = kDuration.size(); i-- > 0;) {
    const auto unit = static_cast<std::int64_t>(kDuration[i].factor);
    if (seconds % unit == 0)
      return std::to_string(seconds / unit) + " " + std::string(kDuration[i].name);
  }
  return std::to_string(seconds) + " s";
}

std::string format(Kind kind, double base_value) {
  switch (kind) {
    case Kind::duration:
    case Kind::durations:
      return format_seconds(static_cast<std::int64_t>(base_value));
    case Kind::level:
    case Kind::level_rate:
      return format_number(base_value / 10) + " " + std::string(info(kind).units.front().name);
    case Kind::clock:
    case Kind::clocks: {
      const auto minutes = static_cast<int>(base_value) / 60;
      std::array<char, 8> text{};
      std::snprintf(text.data(), text.size(), "%02d:%02d", minutes / 60 % 24, minutes % 60);
      return text.data();
    }
    case Kind::temperature:
    case Kind::temperature_difference:
    case Kind::percent:
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
    case Kind::vpd_band:
    case Kind::temperature_band:
    case Kind::ph_band:
    case Kind::ec_band:
    case Kind::volume_band:
    case Kind::depth:
      return format_number(base_value) + " " + std::string(info(kind).units.front().name);
    case Kind::truth:
    case Kind::text:
    case Kind::word:
    case Kind::choice:
    case Kind::count:
    case Kind::number:
    case Kind::date:
    case Kind::command:
    case Kind::section:
    case Kind::section_list:
    case Kind::section_names:
    case Kind::section_outputs:
    case Kind::driver_params:
    case Kind::channel_points:
    case Kind::offsets:
    case Kind::plant_parameters:
      break;
  }
  return format_number(base_value);
}

std::string list_units(std::span<const Unit> units) {
  std::string out;
  for (std::size_t i = 0; i < units.size(); ++i) {
    if (i > 0) out += i + 1 == units.size() ? " or " : ", ";
    out += units[i].name;
  }
  return out;
}

std::string lower_case(std::string_view text) {
  std::string out(text);
  for (char& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

std::string shown(std::string_view text) {
  if (text.empty()) return "\"\"";
  constexpr std::size_t kMost = 60;
  if (text.size() <= kMost) return std::string(text);
  std::size_t cut = kMost - 3;
  while (cut > 0 && (static_cast<unsigned char>(text[cut]) & 0xC0U) == 0x80U) --cut;
  return std::string(text.substr(0, cut)) + "...";
}

}  // namespace neap::settings
