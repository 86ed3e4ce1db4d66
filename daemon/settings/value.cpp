#include "daemon/settings/value.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <cstdio>

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
constexpr std::array kFlow{Unit{"L/h", 1}, Unit{"L/min", 60}, Unit{"gal/h", kGallon}};
constexpr std::array kAirFlow{Unit{"m3/h", 1}, Unit{"cfm", kFoot3 * 60}};
constexpr std::array kSpace{Unit{"m3", 1}, Unit{"L", 0.001}, Unit{"ft3", kFoot3}};
constexpr std::array kHeight{Unit{"m", 1}, Unit{"ft", 0.3048}};
constexpr std::array kVpd{Unit{"kPa", 1}, Unit{"hPa", 0.1}};

constexpr std::array kKinds{
    KindInfo{Kind::truth, "true or false", "true", {}},
    KindInfo{Kind::text, "text of 1 to 64 characters", "box-room", {}},
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
    KindInfo{Kind::clock, "a clock time of 24 hours", "\"06:00\"", {}},
    KindInfo{Kind::date, "a date, year-month-day", "2026-03-02", {}},
    KindInfo{Kind::vpd_band, "a band, low..high with the unit", "0.8..1.2 kPa", kVpd, true},
    KindInfo{Kind::temperature_band, "a band, low..high with the unit", "16..29 C", kTemperature,
             true},
    KindInfo{Kind::depth, "float, or a volume with its unit", "float", kVolume},
    KindInfo{Kind::clocks, "a list of clock times", "[\"08:00\", \"14:00\"]", {}},
    KindInfo{Kind::durations, "a list of durations", "[30 min, 5 h]", kDuration},
    KindInfo{Kind::section, "a group of keys", "", {}},
    KindInfo{Kind::section_list, "a list of groups", "", {}},
    KindInfo{Kind::section_names, "groups of keys by name", "", {}},
    KindInfo{Kind::section_outputs, "groups of keys by output", "", {}},
    KindInfo{Kind::driver_params, "parameters of the driver by name", "", {}},
    KindInfo{Kind::channel_points, "points by channel", "", {}},
    KindInfo{Kind::offsets, "offsets by point", "", {}},
    KindInfo{Kind::plant_parameters, "numbers by parameter", "", {}},
};

using Result = std::variant<Value, Complaint>;

Complaint complain(std::string_view name, const Node& node, std::string_view rule,
                   std::string remedy) {
  return {std::string(name) + " is " + written(node) + "; must be " + std::string(rule),
          std::move(remedy)};
}

std::string example_of(std::string_view name, Kind kind) {
  return "write for example \"" + std::string(name) + ": " + std::string(info(kind).example) + "\"";
}

std::string list_units(std::span<const Unit> units) {
  std::string out;
  for (std::size_t i = 0; i < units.size(); ++i) {
    if (i > 0) out += i + 1 == units.size() ? " or " : ", ";
    out += units[i].name;
  }
  return out;
}

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

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
  const std::string small = lower(seen);
  for (const auto& unit : units)
    if (lower(unit.name) == small) return unit.name;
  for (const auto& row : kSpellings)
    for (const auto& unit : units)
      if (row.seen == small && row.unit == unit.name) return unit.name;
  return {};
}

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

double to_base(double value, const Unit& unit) { return value * unit.factor + unit.offset; }

std::string bounds(const Rule& rule) {
  if (!rule.low || !rule.high) return {};
  return format(rule.kind, *rule.low) + " to " + format(rule.kind, *rule.high);
}

std::optional<Complaint> out_of_bounds(std::string_view name, const Node& node, const Rule& rule,
                                       double value) {
  constexpr double kRounding = 1e-9;  // 76 F and friends are not exact in binary
  const bool low = rule.low && value < *rule.low - kRounding;
  const bool high = rule.high && value > *rule.high + kRounding;
  if (!low && !high) return std::nullopt;
  std::string remedy = "write a value within these bounds";
  if (!rule.why.empty()) remedy += ": " + std::string(rule.why);
  return complain(name, node, bounds(rule), std::move(remedy));
}

bool whole(double value) { return std::abs(value - std::round(value)) < 1e-9; }

bool is_bare_switch(std::string_view text) {
  constexpr std::array<std::string_view, 8> kSwitches{"on", "off", "yes",  "no",
                                                      "y",  "n",   "true", "false"};
  const std::string small = lower(text);
  return std::find(kSwitches.begin(), kSwitches.end(), small) != kSwitches.end();
}

bool means_yes(std::string_view text) {
  const std::string small = lower(text);
  return small == "on" || small == "yes" || small == "y" || small == "true";
}

Result read_truth(std::string_view name, const Node& node) {
  if (!node.quoted && (node.text == "true" || node.text == "false")) {
    Value value;
    value.index = node.text == "true" ? 1 : 0;
    value.text = node.text;
    return value;
  }
  const std::string_view instead = means_yes(node.text) ? "true" : "false";
  return complain(name, node, "true or false, in lower case and without quotes",
                  is_bare_switch(node.text)
                      ? "write \"" + std::string(name) + ": " + std::string(instead) + "\""
                      : example_of(name, Kind::truth));
}

Result read_text(std::string_view name, const Node& node, const Rule& rule) {
  if (!node.quoted && is_bare_switch(node.text))
    return complain(name, node, "text; bare " + node.text + " is a truth value to many readers",
                    "put it in quotes if it is meant as text");
  const bool fits =
      rule.kind == Kind::word ? is_word(node.text) : !node.text.empty() && node.text.size() <= 64;
  if (!fits) return complain(name, node, info(rule.kind).title, example_of(name, rule.kind));
  Value value;
  value.text = node.text;
  return value;
}

Result read_choice(std::string_view name, const Node& node, const Rule& rule) {
  const auto choices = split_words(rule.choices);
  const auto found = std::find(choices.begin(), choices.end(), node.text);
  if (found != choices.end()) {
    Value value;
    value.index = static_cast<std::size_t>(found - choices.begin());
    value.text = node.text;
    return value;
  }
  std::string all;
  for (std::size_t i = 0; i < choices.size(); ++i) {
    if (i > 0) all += i + 1 == choices.size() ? " or " : ", ";
    all += choices[i];
  }
  const std::string near = nearest(node.text, choices);
  return complain(
      name, node, all,
      near.empty() ? "write one of these words" : "did you mean " + in_quotes(near) + "?");
}

Result read_number(std::string_view name, const Node& node, const Rule& rule) {
  auto number = read_decimal(node.text);
  if (auto* bad = std::get_if<Complaint>(&number))
    return complain(name, node, std::string(info(rule.kind).title) + "; it " + bad->message,
                    std::move(bad->remedy));
  Value value;
  value.number = std::get<double>(number);
  value.text = node.text;
  if (rule.kind == Kind::count && !whole(value.number))
    return complain(name, node, info(rule.kind).title, example_of(name, rule.kind));
  if (auto bad = out_of_bounds(name, node, rule, value.number)) return *bad;
  return value;
}

Result read_measure(std::string_view name, const Node& node, const Rule& rule) {
  auto number = read_quantity(name, node, info(rule.kind).units, info(rule.kind).example);
  if (auto* bad = std::get_if<Complaint>(&number)) return *bad;
  Value value;
  value.number = std::get<double>(number);
  value.text = node.text;
  if (auto bad = out_of_bounds(name, node, rule, value.number)) return *bad;
  if (rule.kind == Kind::duration && !whole(value.number))
    return complain(name, node, "whole seconds", "round it to a second");
  if ((rule.kind == Kind::level || rule.kind == Kind::level_rate) && !whole(value.number))
    return complain(name, node, "in steps of 0.1 %", "round it");
  if (rule.kind == Kind::duration || rule.kind == Kind::level || rule.kind == Kind::level_rate)
    value.number = std::round(value.number);
  return value;
}

Result read_level(std::string_view name, const Node& node, const Rule& rule) {
  Value value;
  value.text = node.text;
  if (node.text == "stopped" || node.text == "running") {
    value.number = node.text == "running" ? 1000 : 0;
    if (auto bad = out_of_bounds(name, node, rule, value.number)) return *bad;
    return value;
  }
  if (is_bare_switch(node.text)) {
    const std::string_view instead = means_yes(node.text) ? "running" : "stopped";
    return complain(
        name, node,
        "stopped, running or a percentage; bare " + node.text + " is a truth value to many readers",
        "write \"" + std::string(name) + ": " + std::string(instead) + "\"");
  }
  return read_measure(name, node, rule);
}

Result read_depth(std::string_view name, const Node& node, const Rule& rule) {
  if (node.text != "float") {
    Result result = read_measure(name, node, rule);
    if (auto* value = std::get_if<Value>(&result)) value->index = 1;
    return result;
  }
  Value value;
  value.text = node.text;
  return value;
}

std::optional<int> digits(std::string_view text) {
  int value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  const bool all_digits =
      std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
  if (error != std::errc{} || end != text.data() + text.size() || !all_digits) return std::nullopt;
  return value;
}

Result read_clock(std::string_view name, const Node& node) {
  const std::string_view text = node.text;
  if (text.size() == 5 && text[2] == ':') {
    const auto hour = digits(text.substr(0, 2));
    const auto minute = digits(text.substr(3, 2));
    if (hour && minute && *hour < 24 && *minute < 60) {
      Value value;
      value.number = *hour * 3600 + *minute * 60;
      value.text = node.text;
      return value;
    }
  }
  return complain(name, node, "a clock time from \"00:00\" to \"23:59\"",
                  "write two digits, a colon and two digits, as in \"06:00\"");
}

// Days since 1970-01-01 of a date in the Gregorian calendar.
std::optional<std::int32_t> days_of(int year, int month, int day) {
  const std::chrono::year_month_day ymd{std::chrono::year{year},
                                        std::chrono::month{static_cast<unsigned>(month)},
                                        std::chrono::day{static_cast<unsigned>(day)}};
  if (!ymd.ok()) return std::nullopt;
  return static_cast<std::int32_t>(std::chrono::sys_days{ymd}.time_since_epoch().count());
}

Result read_date(std::string_view name, const Node& node) {
  const std::string_view text = node.text;
  if (text.size() == 10 && text[4] == '-' && text[7] == '-') {
    const auto year = digits(text.substr(0, 4));
    const auto month = digits(text.substr(5, 2));
    const auto day = digits(text.substr(8, 2));
    if (year && month && day && *year >= 2000) {
      if (const auto days = days_of(*year, *month, *day)) {
        Value value;
        value.number = *days;
        value.text = node.text;
        return value;
      }
    }
  }
  return complain(name, node, "a date from 2000-01-01 on that the calendar has",
                  example_of(name, Kind::date));
}

Result read_band(std::string_view name, const Node& node, const Rule& rule) {
  const KindInfo& kind = info(rule.kind);
  const std::string_view text = node.text;
  const std::size_t dots = text.find("..");
  if (dots == std::string_view::npos)
    return complain(name, node, kind.title, example_of(name, rule.kind));
  Node high = node;
  high.text = std::string(text.substr(dots + 2));
  auto high_value = read_quantity(name, high, kind.units, kind.example);
  if (std::holds_alternative<Complaint>(high_value))
    return complain(name, node, kind.title, example_of(name, rule.kind));
  Node low = node;
  low.text = std::string(text.substr(0, dots)) + high.text.substr(number_length(high.text));
  auto low_value = read_quantity(name, low, kind.units, kind.example);
  if (std::holds_alternative<Complaint>(low_value))
    return complain(name, node, kind.title, example_of(name, rule.kind));
  Value value;
  value.number = std::get<double>(low_value);
  value.high = std::get<double>(high_value);
  value.text = node.text;
  for (const double end : {value.number, value.high})
    if (auto bad = out_of_bounds(name, node, rule, end)) return *bad;
  if (value.number >= value.high)
    return complain(name, node, "a band whose low end is under its high end",
                    "write the smaller number first");
  return value;
}

Result read_list(std::string_view name, const Node& node, const Rule& rule) {
  Value value;
  Rule one = rule;
  one.kind = rule.kind == Kind::clocks ? Kind::clock : Kind::duration;
  if (node.items.empty())
    return complain(name, node, "a list of at least one", example_of(name, rule.kind));
  for (const auto& item : node.items) {
    Result result = read_value(name, item, one);
    if (auto* bad = std::get_if<Complaint>(&result)) return *bad;
    value.list.push_back(std::get<Value>(result).whole());
    value.text += (value.text.empty() ? "[" : ", ") + item.text;
  }
  value.text += "]";
  return value;
}

Result read_scalar(std::string_view name, const Node& node, const Rule& rule) {
  switch (rule.kind) {
    case Kind::truth:
      return read_truth(name, node);
    case Kind::text:
    case Kind::word:
      return read_text(name, node, rule);
    case Kind::choice:
      return read_choice(name, node, rule);
    case Kind::count:
    case Kind::number:
      return read_number(name, node, rule);
    case Kind::duration:
    case Kind::temperature:
    case Kind::temperature_difference:
    case Kind::percent:
    case Kind::level_rate:
    case Kind::volume:
    case Kind::flow:
    case Kind::air_flow:
    case Kind::space:
    case Kind::height:
      return read_measure(name, node, rule);
    case Kind::level:
      return read_level(name, node, rule);
    case Kind::clock:
      return read_clock(name, node);
    case Kind::date:
      return read_date(name, node);
    case Kind::vpd_band:
    case Kind::temperature_band:
      return read_band(name, node, rule);
    case Kind::depth:
      return read_depth(name, node, rule);
    case Kind::clocks:
    case Kind::durations:
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
  return complain(name, node, info(rule.kind).title, example_of(name, rule.kind));
}

}  // namespace

const KindInfo& info(Kind kind) { return kKinds[static_cast<std::size_t>(kind)]; }

std::variant<Value, Complaint> read_value(std::string_view name, const Node& node,
                                          const Rule& rule) {
  const bool wants_list = rule.kind == Kind::clocks || rule.kind == Kind::durations;
  if (wants_list && node.kind == NodeKind::list) return read_list(name, node, rule);
  if (wants_list || node.kind != NodeKind::scalar)
    return complain(name, node, info(rule.kind).title, example_of(name, rule.kind));
  return read_scalar(name, node, rule);
}

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
  const std::string small = lower(text);
  for (const auto& slip : kSlips)
    if (small.find(slip.part) != std::string::npos)
      return Complaint{std::string(slip.message), std::string(slip.remedy)};
  return Complaint{"is no plain decimal", "write digits, and a point before decimals: 1.5"};
}

std::variant<double, Complaint> read_quantity(std::string_view name, const Node& node,
                                              std::span<const Unit> units,
                                              std::string_view example) {
  const std::string units_text = list_units(units);
  const std::string write_example =
      "write for example \"" + std::string(name) + ": " + std::string(example) + "\"";
  if (node.kind != NodeKind::scalar)
    return complain(name, node, "a number and its unit, " + units_text, write_example);
  const std::string_view text = node.text;
  const std::size_t length = number_length(text);
  std::string_view unit_text = text.substr(length);
  if (unit_text.starts_with(' ')) unit_text.remove_prefix(1);
  const auto unit = unit_of(unit_text, units);
  if (unit && length > 0) {
    auto number = read_decimal(text.substr(0, length));
    if (const auto* value = std::get_if<double>(&number)) return to_base(*value, *unit);
    auto& bad = std::get<Complaint>(number);
    return complain(name, node, "a plain decimal and its unit; the number " + bad.message,
                    std::move(bad.remedy));
  }
  if (length > 0 && unit_text.empty()) {
    const std::string number(text.substr(0, length));
    return complain(
        name, node, "a number and its unit, " + units_text,
        "write the unit: \"" + number + " " + std::string(units.front().name) + "\"" +
            (units.size() > 1 ? " or \"" + number + " " + std::string(units[1].name) + "\"" : ""));
  }
  const std::string_view near = meant(unit_text, units);
  if (length > 0 && !near.empty())
    return complain(
        name, node, "in " + units_text,
        "write \"" + std::string(text.substr(0, length)) + " " + std::string(near) + "\"");
  auto number = read_decimal(text);
  if (length == 0 || text.find(' ') == std::string_view::npos)
    return complain(name, node, "a plain decimal and its unit, " + units_text, write_example);
  return complain(name, node, "in " + units_text, write_example);
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
    case Kind::vpd_band:
    case Kind::temperature_band:
    case Kind::depth:
      return format_number(base_value) + " " + std::string(info(kind).units.front().name);
    case Kind::truth:
    case Kind::text:
    case Kind::word:
    case Kind::choice:
    case Kind::count:
    case Kind::number:
    case Kind::date:
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

std::string written(const Node& node) {
  switch (node.kind) {
    case NodeKind::empty:
    case NodeKind::refused:
      return "empty";
    case NodeKind::list:
      return "a list";
    case NodeKind::map:
      return "a group of keys";
    case NodeKind::scalar:
      break;
  }
  if (node.text.empty()) return "\"\"";
  return node.text.size() > 60 ? node.text.substr(0, 57) + "..." : node.text;
}

std::vector<std::string_view> split_words(std::string_view words) {
  std::vector<std::string_view> out;
  while (!words.empty()) {
    const std::size_t space = words.find(' ');
    out.push_back(words.substr(0, space));
    words.remove_prefix(space == std::string_view::npos ? words.size() : space + 1);
  }
  return out;
}

bool is_word(std::string_view text) {
  const auto fits = [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
  };
  return !text.empty() && text.size() <= 32 && text.front() >= 'a' && text.front() <= 'z' &&
         std::all_of(text.begin(), text.end(), fits);
}

}  // namespace neap::settings
