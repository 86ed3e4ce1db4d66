#include "daemon/client/parse.h"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cmath>

#include "daemon/client/failure.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

[[noreturn]] void refuse(std::string_view place, std::string_view text, const std::string& rule,
                         std::string remedy) {
  throw Failure(kExitUsage, std::string(place) + " is \"" + words::printable(text) + "\", " + rule,
                std::move(remedy));
}

// Edits of one character that lead from `a` to `b`.
std::size_t distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j < row.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t swapped = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({swapped, row[j] + 1, row[j - 1] + 1});
    }
  }
  return row[b.size()];
}

struct UnitRow {
  std::string_view name;
  std::int64_t ms;
};
constexpr UnitRow kUnits[] = {{"s", 1000},         {"sec", 1000},        {"m", 60'000},
                              {"min", 60'000},     {"h", 3'600'000},     {"d", 86'400'000},
                              {"minutes", 60'000}, {"hours", 3'600'000}, {"days", 86'400'000},
                              {"seconds", 1000},   {"w", 604'800'000}};

std::string without_spaces(std::string_view text) {
  std::string out;
  for (const char c : text)
    if (c != ' ') out += c;
  return out;
}

template <class Rows>
std::vector<std::string_view> names_of(const Rows& rows) {
  std::vector<std::string_view> names;
  for (const auto& row : rows) names.push_back(row.name);
  return names;
}

// A row by its name; `-` and `_` are the same in what a person types.
template <class Rows>
const auto& named(std::string_view place, std::string_view text, const Rows& rows) {
  const auto plain = [](std::string_view name) {
    std::string out(name);
    std::replace(out.begin(), out.end(), '-', '_');
    return out;
  };
  for (const auto& row : rows)
    if (plain(row.name) == plain(text)) return row;
  refuse(place, text, "and there is none of that name", suggestion(text, names_of(rows)));
}

std::optional<int> digits(std::string_view text) {
  int value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || text.empty() ||
      text.front() == '-')
    return std::nullopt;
  return value;
}

}  // namespace

std::string nearest(std::string_view text, const std::vector<std::string_view>& candidates) {
  std::string best;
  std::size_t best_distance = std::max<std::size_t>(2, text.size() / 3) + 1;
  for (const std::string_view candidate : candidates) {
    const std::size_t here = distance(text, candidate);
    if (here >= best_distance) continue;
    best_distance = here;
    best = std::string(candidate);
  }
  return best;
}

std::string suggestion(std::string_view text, const std::vector<std::string_view>& candidates) {
  const std::string near = nearest(text, candidates);
  if (!near.empty()) return "did you mean \"" + near + "\"?";
  std::string list;
  for (const std::string_view candidate : candidates)
    list += (list.empty() ? "use one of: " : ", ") + std::string(candidate);
  return list;
}

std::optional<Millis> read_duration(std::string_view given) {
  const std::string joined = without_spaces(given);
  std::string_view text = joined;
  double total = 0;
  if (text.empty()) return std::nullopt;
  while (!text.empty()) {
    double count = 0;
    const auto [end, error] =
        std::from_chars(text.data(), text.data() + text.size(), count, std::chars_format::fixed);
    if (error != std::errc{} || !(count >= 0)) return std::nullopt;
    text.remove_prefix(static_cast<std::size_t>(end - text.data()));
    const std::size_t letters =
        std::min(text.find_first_not_of("abcdefghijklmnopqrstuvwxyz"), text.size());
    const auto* unit = std::find_if(std::begin(kUnits), std::end(kUnits), [&](const UnitRow& row) {
      return row.name == text.substr(0, letters);
    });
    if (unit == std::end(kUnits)) return std::nullopt;
    total += count * static_cast<double>(unit->ms);
    text.remove_prefix(letters);
  }
  constexpr double kFarAway = 4e12;  // ms: over a century
  if (!(total < kFarAway)) return std::nullopt;
  return Millis{std::llround(total)};
}

Millis parse_duration(std::string_view place, std::string_view text, Millis lowest,
                      Millis highest) {
  const auto found = read_duration(text);
  if (!found) refuse(place, text, "which is no length of time", "write 90s, 10m, 2h, 1h30m or 3d");
  if (*found < lowest || *found > highest)
    refuse(place, text, "outside " + words::duration(lowest) + " to " + words::duration(highest),
           "choose a length of time inside it");
  return *found;
}

std::optional<Millis> take_for(std::vector<std::string>& words, Millis lowest, Millis highest) {
  const auto at = std::find(words.begin(), words.end(), "for");
  if (at == words.end()) return std::nullopt;
  std::string length;
  for (auto word = at + 1; word != words.end(); ++word) length += *word;
  words.erase(at, words.end());
  return parse_duration("the length after for", length, lowest, highest);
}

Permille parse_level(Output output, std::string_view text) {
  const OutputInfo& row = info(output);
  if (text == row.stopped_word) return kStopped;
  if (text == row.running_word) return kRunning;
  const std::string part = without_spaces(text);
  std::string rule = "which is no level of the " + std::string(row.title);
  std::string remedy = "write " + std::string(row.stopped_word) + " or " +
                       std::string(row.running_word) + (row.may_be_variable ? ", or 45%" : "");
  double percent = 0;
  const auto [end, error] =
      std::from_chars(part.data(), part.data() + part.size(), percent, std::chars_format::fixed);
  if (error != std::errc{} || std::string_view(end) != "%") refuse("LEVEL", text, rule, remedy);
  if (!row.may_be_variable)
    refuse("LEVEL", text, "and the " + std::string(row.title) + " knows two positions only",
           remedy);
  if (!(percent >= 0 && percent <= 100)) refuse("LEVEL", text, "outside 0% to 100%", remedy);
  return Permille{static_cast<int>(std::lround(percent * 10))};
}

Output parse_output(std::string_view text) {
  if (text == "fan") return Output::exhaust_fan;
  return named("OUTPUT", text, kOutputs).output;
}

Alarm parse_alarm(std::string_view text) { return named("ALARM", text, kAlarms).alarm; }

Latch parse_latch(std::string_view text) { return named("LATCH", text, kLatches).latch; }

Point parse_point(std::string_view text) { return named("POINT", text, kPoints).point; }

namespace {

// "flood_ended"; empty for a number that no kind has.
std::string kind_word(EventKind kind) {
  std::string name(words::name(kind));
  if (name == words::name(EventKind{})) return {};
  std::replace(name.begin(), name.end(), ' ', '_');
  return name;
}

template <class Each>
void for_each_kind(Each&& each) {
  for (int number = static_cast<int>(EventKind::actuation);
       number <= static_cast<int>(EventKind::calibration); ++number)
    if (const std::string word = kind_word(static_cast<EventKind>(number)); !word.empty())
      each(static_cast<EventKind>(number), word);
}

}  // namespace

std::vector<std::string> kind_words() {
  std::vector<std::string> all;
  for_each_kind([&](EventKind, const std::string& word) { all.push_back(word); });
  return all;
}

EventKind parse_kind(std::string_view text) {
  std::optional<EventKind> found;
  for_each_kind([&](EventKind kind, const std::string& word) {
    if (word == text) found = kind;
  });
  if (found) return *found;
  const std::vector<std::string> known = kind_words();
  std::string all;
  for (const std::string& name : known) all += (all.empty() ? "" : ", ") + name;
  const std::string near = nearest(text, {known.begin(), known.end()});
  refuse("--kind", text, "and there is no event of that kind",
         (near.empty() ? "" : "did you mean \"" + near + "\"? ") + "the kinds are: " + all);
}

int parse_whole(std::string_view place, std::string_view text, int lowest, int highest,
                std::string_view example) {
  const std::string remedy = "write for instance " + std::string(example);
  long long value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (end != text.data() + text.size() || error == std::errc::invalid_argument)
    refuse(place, text, "which is no whole number", remedy);
  if (error != std::errc{} || value < lowest || value > highest)
    refuse(place, text, "outside " + std::to_string(lowest) + " to " + std::to_string(highest),
           remedy);
  return static_cast<int>(value);
}

double parse_number(std::string_view place, std::string_view text, double lowest, double highest) {
  double value = 0;
  const auto [end, error] =
      std::from_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed);
  if (error != std::errc{} || end != text.data() + text.size())
    refuse(place, text, "which is no number", "write digits, with a point for decimals");
  if (!(value >= lowest && value <= highest))
    refuse(place, text,
           "outside " + words::decimals(lowest, 0) + " to " + words::decimals(highest, 0),
           "check the figure and its unit");
  return value;
}

std::optional<std::int32_t> read_clock(std::string_view text) {
  if ((text.size() != 5 && text.size() != 8) || text[2] != ':') return std::nullopt;
  if (text.size() == 8 && text[5] != ':') return std::nullopt;
  const auto hour = digits(text.substr(0, 2));
  const auto minute = digits(text.substr(3, 2));
  const auto second = text.size() == 8 ? digits(text.substr(6, 2)) : std::optional(0);
  if (!hour || !minute || !second || *hour > 23 || *minute > 59 || *second > 59)
    return std::nullopt;
  return *hour * 3600 + *minute * 60 + *second;
}

std::optional<DateTime> read_date_time(std::string_view text) {
  if (text.size() < 10 || text[4] != '-' || text[7] != '-') return std::nullopt;
  const auto year = digits(text.substr(0, 4));
  const auto month = digits(text.substr(5, 2));
  const auto day = digits(text.substr(8, 2));
  if (!year || !month || !day) return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year{*year},
                                         std::chrono::month{static_cast<unsigned>(*month)},
                                         std::chrono::day{static_cast<unsigned>(*day)}};
  if (!date.ok()) return std::nullopt;
  const auto days = std::chrono::sys_days{date}.time_since_epoch().count();
  DateTime out{{static_cast<std::int32_t>(days), 0}, false};
  if (text.size() == 10) return out;
  const auto second =
      text[10] == 'T' || text[10] == ' ' ? read_clock(text.substr(11)) : std::nullopt;
  if (!second) return std::nullopt;
  out.civil.second_of_day = *second;
  out.has_time = true;
  return out;
}

DateTime parse_date_time(std::string_view place, std::string_view text) {
  const auto found = read_date_time(text);
  if (!found) refuse(place, text, "which is no date", "write 2026-06-01 or 2026-06-01T14:30");
  return *found;
}

}  // namespace neap::client
