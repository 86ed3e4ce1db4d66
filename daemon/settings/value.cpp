#include "daemon/settings/value.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <cstdio>

namespace neap::settings {
namespace {

using Result = std::variant<Value, Complaint>;

Complaint complain(std::string_view name, const Node& node, std::string_view rule,
                   std::string remedy) {
  return {std::string(name) + " is " + written(node) + "; must be " + std::string(rule),
          std::move(remedy)};
}

std::string example_of(std::string_view name, Kind kind) {
  return "write for example \"" + std::string(name) + ": " + std::string(info(kind).example) + "\"";
}

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
  const std::string small = lower_case(text);
  return std::find(kSwitches.begin(), kSwitches.end(), small) != kSwitches.end();
}

bool means_yes(std::string_view text) {
  const std::string small = lower_case(text);
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

constexpr std::ptrdiff_t kLongestText = 128;  // as info(Kind::text) says

std::ptrdiff_t characters_of(std::string_view text) {
  return std::count_if(text.begin(), text.end(),
                       [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; });
}

Result read_text(std::string_view name, const Node& node, const Rule& rule) {
  if (!node.quoted && is_bare_switch(node.text))
    return complain(name, node, "text; bare " + node.text + " is a truth value to many readers",
                    "put it in quotes if it is meant as text");
  const bool fits = rule.kind == Kind::word
                        ? is_word(node.text)
                        : !node.text.empty() && characters_of(node.text) <= kLongestText;
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
  auto number = read_quantity(name, node.text, info(rule.kind).units, info(rule.kind).example);
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
  const auto bad_shape = complain(name, node, kind.title, example_of(name, rule.kind));
  if (dots == std::string_view::npos) return bad_shape;
  const std::string_view high_text = text.substr(dots + 2);
  const std::string low_text =
      std::string(text.substr(0, dots)) + " " + std::string(split_quantity(high_text).unit);
  const auto low = read_quantity(name, low_text, kind.units, kind.example);
  const auto high = read_quantity(name, high_text, kind.units, kind.example);
  if (!std::holds_alternative<double>(low) || !std::holds_alternative<double>(high))
    return bad_shape;
  Value value;
  value.number = std::get<double>(low);
  value.high = std::get<double>(high);
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

// A word may be anything but empty, long or with control characters in it: no shell reads it.
bool is_argument(const Node& node) {
  return node.kind == NodeKind::scalar && !node.text.empty() && node.text.size() <= 255 &&
         std::none_of(node.text.begin(), node.text.end(),
                      [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
}

Result read_command(std::string_view name, const Node& node) {
  constexpr std::size_t kMostWords = 16;
  const bool fits = node.kind == NodeKind::list && !node.items.empty() &&
                    node.items.size() <= kMostWords &&
                    std::all_of(node.items.begin(), node.items.end(), is_argument);
  if (!fits || !node.items.front().text.starts_with('/')) {
    const bool relative = fits && !node.items.front().text.starts_with('/');
    return Complaint{std::string(name) + " is " +
                         (relative ? in_quotes(shown(node.items.front().text)) : written(node)) +
                         "; must be " + std::string(info(Kind::command).title),
                     example_of(name, Kind::command)};
  }
  Value value;
  for (const auto& item : node.items) {
    value.words.push_back(item.text);
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
    case Kind::length:
    case Kind::conductivity:
    case Kind::dose:
    case Kind::vpd_hours:
    case Kind::power:
      return read_measure(name, node, rule);
    case Kind::level:
      return read_level(name, node, rule);
    case Kind::clock:
      return read_clock(name, node);
    case Kind::date:
      return read_date(name, node);
    case Kind::vpd_band:
    case Kind::temperature_band:
    case Kind::ph_band:
    case Kind::ec_band:
    case Kind::volume_band:
      return read_band(name, node, rule);
    case Kind::depth:
      return read_depth(name, node, rule);
    case Kind::clocks:
    case Kind::durations:
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
  return complain(name, node, info(rule.kind).title, example_of(name, rule.kind));
}

}  // namespace

std::variant<Value, Complaint> read_value(std::string_view name, const Node& node,
                                          const Rule& rule) {
  if (rule.kind == Kind::command) return read_command(name, node);
  const bool wants_list = rule.kind == Kind::clocks || rule.kind == Kind::durations;
  if (wants_list && node.kind == NodeKind::list) return read_list(name, node, rule);
  if (wants_list || node.kind != NodeKind::scalar)
    return complain(name, node, info(rule.kind).title, example_of(name, rule.kind));
  return read_scalar(name, node, rule);
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
  return shown(node.text);
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
