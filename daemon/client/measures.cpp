#include "daemon/client/measures.h"

#include <algorithm>
#include <charconv>

#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

[[noreturn]] void refuse(std::string_view place, std::string_view text, const std::string& rule,
                         std::string remedy) {
  throw Failure(kExitUsage, std::string(place) + " is \"" + words::printable(text) + "\", " + rule,
                std::move(remedy));
}

struct UnitOf {
  std::string_view of;    // unit of kHands
  std::string_view name;  // as it may be written, in lower case
  double factor;          // value = written * factor + offset
  double offset = 0;
};
// ppm is no unit: meters make it of EC by 500 or by 700, and the figure does not say which.
constexpr UnitOf kUnits[] = {{"", "ph", 1},
                             {"mS/cm", "ms/cm", 1},
                             {"mS/cm", "ms", 1},
                             {"mS/cm", "ds/m", 1},
                             {"mS/cm", "us/cm", 0.001},
                             {"mS/cm", "us", 0.001},
                             {"mS/cm", "ppm500", 1.0 / 500},
                             {"mS/cm", "ppm700", 1.0 / 700},
                             {"L", "l", 1},
                             {"L", "ml", 0.001},
                             {"L", "gal", 3.785411784},
                             {"C", "c", 1},
                             {"C", "f", 5.0 / 9, -160.0 / 9},
                             {"mL", "ml", 1},
                             {"L/h", "l/h", 1},
                             {"s", "s", 1},
                             {"%", "%", 1}};

// Other words for a quantity.
struct Alias {
  std::string_view name;
  Hand hand;
};
constexpr Alias kAliases[] = {{"water", Hand::temperature}, {"temp", Hand::temperature}};

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

// As a person writes it.
std::string_view called(const HandInfo& row) {
  return row.hand == Hand::temperature ? kAliases[0].name : row.name;
}

const HandInfo& hand_named(const std::string& word, std::string_view name) {
  std::string plain = lower(name);
  std::replace(plain.begin(), plain.end(), '-', '_');
  for (const Alias& alias : kAliases)
    if (alias.name == plain) return info(alias.hand);
  if (const HandInfo* row = find_hand(plain)) return *row;
  std::vector<std::string_view> names;
  for (const HandInfo& row : kHands) names.push_back(row.name);
  names.insert(names.end(), {"water", "at", "photo"});
  refuse("a measurement", word, "and nothing of that name is measured", suggestion(name, names));
}

std::string in_range(const HandInfo& row) {
  return words::decimals(row.lowest, 0) + " to " + words::decimals(row.highest, 0);
}

// What a figure that cannot be meant so was probably meant as.
std::string guess(const HandInfo& row, std::string_view written, double value) {
  const std::string as_written(written);
  if (row.hand == Hand::ec && value >= 100 && value <= 20000)
    return "is it uS/cm? then write ec=" + as_written + "uS/cm, which is " +
           words::decimals(value / 1000, 2) +
           " mS/cm; if it is ppm, say which scale: ec=" + as_written +
           "ppm500 or ec=" + as_written + "ppm700";
  if (row.hand == Hand::temperature && value <= 122)
    return "is it Fahrenheit? then write water=" + as_written + "F";
  if (row.hand == Hand::ph && value >= 30 && value <= 99)
    return "did you mean ph=" + words::decimals(value / 10, 1) + "?";
  return "check the figure and its unit";
}

// What a reservoir for plants has; a figure beyond it, without its unit, is more likely a slip of
// the finger than true (common practice, no source).
struct Usual {
  Hand hand;
  double low, high;
  std::string_view unit;  // that says it is meant
};
constexpr Usual kUsual[] = {
    {Hand::ph, 3.5, 9, "pH"}, {Hand::ec, 0, 6, "mS/cm"}, {Hand::temperature, 4, 38, "C"}};

void ask_whether_meant(const HandInfo& row, std::string_view number, double value) {
  for (const Usual& usual : kUsual) {
    if (usual.hand != row.hand || (value >= usual.low && value <= usual.high)) continue;
    const std::string slip = row.hand == Hand::temperature || value < usual.low
                                 ? "measure again."
                                 : "did you mean " + std::string(row.name) + "=" +
                                       words::decimals(value / 10, row.hand == Hand::ec ? 2 : 1) +
                                       "?";
    refuse(called(row), number,
           "which no solution for plants has (" + words::decimals(usual.low, 1) + " to " +
               words::decimals(usual.high, 1) + ")",
           slip + " If it is what the meter shows, write it with its unit: " +
               std::string(called(row)) + "=" + std::string(number) + std::string(usual.unit));
  }
}

// A reservoir may be filled a little over what it is said to hold (choice).
constexpr double kOverfull = 1.1;

void ask_whether_it_holds(const HandInfo& row, std::string_view number, double value,
                          std::optional<double> reservoir_l) {
  const bool of_it = row.hand == Hand::level || row.hand == Hand::topup || row.hand == Hand::change;
  if (!of_it || !reservoir_l || value <= *reservoir_l * kOverfull) return;
  refuse(row.name, number,
         "and the reservoir holds " + words::decimals(*reservoir_l, 0) +
             " L by table.reservoir_capacity",
         "read it again. If it is so, write it with its unit: " + std::string(row.name) + "=" +
             std::string(number) + "L");
}

double figure(const HandInfo& row, std::string_view written, std::optional<double> reservoir_l) {
  double value = 0;
  const auto [end, error] = std::from_chars(written.data(), written.data() + written.size(), value,
                                            std::chars_format::fixed);
  if (error != std::errc{})
    refuse(called(row), written, "which is no number", "write digits, with a point for decimals");
  const std::string_view number(written.data(), static_cast<std::size_t>(end - written.data()));
  std::string_view rest = written.substr(number.size());
  while (rest.starts_with(' ')) rest.remove_prefix(1);  // ec="1600 uS/cm"
  const std::string unit = lower(rest);
  if (row.hand == Hand::ec && unit == "ppm")
    refuse(called(row), written, "and ppm has two scales",
           "look at the meter: write ec=" + std::string(number) + "ppm500 (" +
               words::decimals(value / 500, 2) + " mS/cm) or ec=" + std::string(number) +
               "ppm700 (" + words::decimals(value / 700, 2) + " mS/cm)");
  if (!unit.empty()) {
    const auto* found = std::find_if(std::begin(kUnits), std::end(kUnits), [&](const UnitOf& u) {
      return u.of == row.unit && u.name == unit;
    });
    if (found == std::end(kUnits))
      refuse(called(row), written, "which is no number, or no unit of it",
             row.unit.empty() ? "write digits, with a point for decimals"
                              : "write it in " + std::string(row.unit));
    value = value * found->factor + found->offset;
  }
  if (!(value >= row.lowest && value <= row.highest))
    refuse(called(row), written, "outside " + in_range(row),
           unit.empty() ? guess(row, number, value) : "check the figure and its unit");
  if (!unit.empty()) return value;
  ask_whether_meant(row, number, value);
  ask_whether_it_holds(row, number, value, reservoir_l);
  return value;
}

// Decimals that a hand meter shows.
int digits_of(Hand hand) {
  switch (hand) {
    case Hand::ph:
    case Hand::ec:
      return 2;
    case Hand::level:
    case Hand::temperature:
    case Hand::ph_down:
    case Hand::ph_up:
    case Hand::topup:
    case Hand::change:
      return 1;
    case Hand::pump_flow:
    case Hand::fill:
    case Hand::drain:
    case Hand::fan_least:
    case Hand::stock_a:
    case Hand::stock_b:
      return 0;
  }
  return 2;
}

}  // namespace

Measured parse_measured(const std::vector<std::string>& words, std::optional<double> reservoir_l) {
  Measured found;
  for (std::size_t i = 0; i < words.size(); ++i) {
    const std::string& word = words[i];
    const std::size_t equals = word.find('=');
    if (equals == std::string::npos)
      refuse("a measurement", word, "which is no name=value",
             "write for instance ph=5.9 ec=1.6 level=62 water=20.5");
    const std::string name = word.substr(0, equals);
    const std::string value = word.substr(equals + 1);
    if (name == "at" || name == "photo") {
      std::string& text = name == "at" ? found.at : found.photo;
      if (!text.empty() || value.empty())
        refuse("a measurement", word, value.empty() ? "which says nothing" : "a second " + name,
               "write for instance at=07:30, or photo=roots.jpg");
      text = value;
      // at=yesterday 19:10 needs no quotes.
      if (name == "at" && i + 1 < words.size() && read_clock(words[i + 1]))
        text += " " + words[++i];
      continue;
    }
    const HandInfo& row = hand_named(word, name);
    for (const Measure& before : found.values)
      if (before.hand == row.hand)
        refuse("a measurement", word, "a second value for " + std::string(row.name),
               "give each quantity once; water is another name of temperature");
    found.values.push_back({row.hand, figure(row, value, reservoir_l)});
  }
  return found;
}

double parse_figure(Hand hand, std::string_view text, std::optional<double> reservoir_l) {
  return figure(info(hand), text, reservoir_l);
}

CivilTime parse_moment(std::string_view text, std::int32_t today) {
  constexpr std::string_view kYesterday = "yesterday ";
  if (const auto clock = read_clock(text)) return {today, *clock};
  if (text.starts_with(kYesterday))
    if (const auto clock = read_clock(text.substr(kYesterday.size()))) return {today - 1, *clock};
  if (const auto date = read_date_time(text); date && date->has_time) return date->civil;
  refuse("at", text, "which is no time of day",
         "write at=07:30, at=yesterday 19:10, or at=2026-06-01T19:10");
}

std::string hand_text(Hand hand, double value) {
  const HandInfo& row = info(hand);
  return std::string(row.title) + " " + words::decimals(value, digits_of(hand)) +
         (row.unit.empty() ? "" : " " + std::string(row.unit));
}

std::string hand_band_text(Hand hand, const Range& band) {
  const int digits = hand == Hand::ec ? 2 : 1;
  return words::decimals(band.low, digits) + " to " + words::decimals(band.high, digits);
}

std::string hand_texts(const std::vector<Measure>& values) {
  std::string text;
  for (const Measure& each : values)
    text += (text.empty() ? "" : ", ") + hand_text(each.hand, each.value);
  return text;
}

}  // namespace neap::client
