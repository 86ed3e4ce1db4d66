#include "tests/settings/mutants/mutate.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdio>

namespace neap::settings {
namespace {

using Files = std::span<const std::string>;
constexpr std::size_t kLargest = 70'000;  // a little over what the loader takes

// A word of the text outside of comments: a key, a number, a unit, a name.
struct Word {
  std::size_t at = 0;
  std::size_t size = 0;
  bool is_key = false;
};

bool is_word_byte(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' ||
         c == '.' || c == '-' || c == '/' || c == '%';
}

std::vector<Word> words_of(std::string_view text) {
  std::vector<Word> words;
  bool comment = false;
  for (std::size_t at = 0; at < text.size();) {
    if (text[at] == '#') comment = true;
    if (text[at] == '\n') comment = false;
    std::size_t end = at;
    while (end < text.size() && is_word_byte(text[end])) ++end;
    if (end > at && !comment)
      words.push_back({at, end - at, end < text.size() && text[end] == ':'});
    at = std::max(end, at + 1);
  }
  return words;
}

bool is_number(std::string_view word) {
  return !word.empty() && ((word[0] >= '0' && word[0] <= '9') ||
                           (word.size() > 1 && word[0] == '-' && word[1] >= '0' && word[1] <= '9'));
}

enum class Of : std::uint8_t { keys, numbers, values };

std::vector<Word> words_of(std::string_view text, Of of) {
  std::vector<Word> words = words_of(text);
  std::erase_if(words, [&](const Word& word) {
    const bool number = !word.is_key && is_number(text.substr(word.at, word.size));
    return of == Of::keys ? !word.is_key : of == Of::numbers ? !number : word.is_key;
  });
  return words;
}

std::vector<std::string> lines_of(std::string_view text) {
  std::vector<std::string> lines;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size() - 1) + 1;
    lines.emplace_back(text.substr(0, end));
    text.remove_prefix(end);
  }
  return lines;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const auto& line : lines) text += line;
  return text;
}

std::size_t indent_of(const std::string& line) {
  return std::min(line.find_first_not_of(" -"), line.size());
}

// The line at `at` and those that belong to it, being indented further.
std::size_t end_of_group(const std::vector<std::string>& lines, std::size_t at) {
  std::size_t end = at + 1;
  while (end < lines.size() && indent_of(lines[end]) > indent_of(lines[at])) ++end;
  return end;
}

// Where the value of a random key begins and how long it is, on its own line.
Word value_of_a_key(const std::string& text, Random& random) {
  const auto keys = words_of(text, Of::keys);
  if (keys.empty()) return {};
  const Word key = random.one_of(keys);
  const std::size_t at = std::min(key.at + key.size + 2, text.size());
  return {at, std::min(text.find('\n', at), text.size()) - at, false};
}

std::string scaled(std::string_view number, double factor, double add) {
  double value = 0;
  const auto [end, error] = std::from_chars(number.data(), number.data() + number.size(), value);
  if (error != std::errc{}) return std::string(number);
  std::array<char, 40> out{};
  std::snprintf(out.data(), out.size(), "%.10g", value * factor + add);
  return out.data() + std::string(end, number.data() + number.size());
}

// Steps that stay near what a person writes, so that many of these mutants are accepted.
std::string nudged(std::string_view number, Random& random) {
  constexpr std::array kFactors{0.0, 0.1, 0.25, 0.5,  0.8,  1.2, 1.5,
                                2.0, 2.4, 3.0,  10.0, 60.0, -1.0};
  return random.below(4) == 0 ? scaled(number, 1, random.below(2) == 0 ? 1 : -1)
                              : scaled(number, random.one_of(kFactors), 0);
}

void extreme_number(std::string& text, Files, Random& random) {
  constexpr std::array<std::string_view, 42> kNumbers{"0",
                                                      "-0",
                                                      "-1",
                                                      "0.0000001",
                                                      "1e3",
                                                      "1e308",
                                                      "1e999",
                                                      "-1e308",
                                                      "2147483648",
                                                      "-2147483649",
                                                      "4294967296",
                                                      "9223372036854775808",
                                                      "18446744073709551616",
                                                      "99999999999999999999999999",
                                                      "0x10",
                                                      "0o17",
                                                      "017",
                                                      "0b11",
                                                      "1_000",
                                                      "1,5",
                                                      "1.5.5",
                                                      "5.",
                                                      ".5",
                                                      "+5",
                                                      ".nan",
                                                      "NaN",
                                                      ".inf",
                                                      "-.inf",
                                                      "inf",
                                                      "1..2",
                                                      "2..1",
                                                      "~",
                                                      "null",
                                                      "true",
                                                      "1:30",
                                                      "190:20:30",
                                                      "1 000",
                                                      "\u0663",
                                                      "\u00bd",
                                                      "5%%",
                                                      "- 5",
                                                      ""};
  const auto numbers = words_of(text, Of::numbers);
  if (numbers.empty()) return;
  const Word number = random.one_of(numbers);
  text.replace(number.at, number.size, random.one_of(kNumbers));
}

void near_number(std::string& text, Files, Random& random) {
  const auto numbers = words_of(text, Of::numbers);
  if (numbers.empty()) return;
  const Word number = random.one_of(numbers);
  text.replace(number.at, number.size, nudged(text.substr(number.at, number.size), random));
}

void some_numbers(std::string& text, Files files, Random& random) {
  for (std::size_t n = 2 + random.below(4); n > 0; --n) near_number(text, files, random);
}

// All numbers of a group by one factor: what rules between settings would refuse one by one.
void group_scaled(std::string& text, Files, Random& random) {
  constexpr std::array kFactors{0.25, 0.5, 1.5, 2.0, 3.0, 5.0};
  std::vector<std::string> lines = lines_of(text);
  if (lines.empty()) return;
  const std::size_t first = random.below(lines.size());
  const std::size_t end = std::min(end_of_group(lines, first) + random.below(6), lines.size());
  const double factor = random.one_of(kFactors);
  for (std::size_t i = first; i < end; ++i) {
    auto numbers = words_of(lines[i], Of::numbers);
    std::reverse(numbers.begin(), numbers.end());
    for (const Word& n : numbers)
      lines[i].replace(n.at, n.size, scaled(lines[i].substr(n.at, n.size), factor, 0));
  }
  text = joined(lines);
}

void other_unit(std::string& text, Files, Random& random) {
  constexpr std::array<std::string_view, 26> kUnits{
      "s", "min", "h", "d",   "ms", "L", "mL",   "gal",   "L/h", "L/min", "gal/h",   "m3", "ft3",
      "C", "F",   "K", "kPa", "Pa", "%", "m3/h", "mS/cm", "ppm", "%/min", "running", "m",  ""};
  const auto numbers = words_of(text, Of::numbers);
  if (numbers.empty()) return;
  const Word number = random.one_of(numbers);
  const std::size_t at = number.at + number.size;
  const std::size_t end = std::min(text.find_first_of("\n,]}#", at), text.size());
  text.replace(at, end - at, " " + std::string(random.one_of(kUnits)));
}

void other_word(std::string& text, Files files, Random& random) {
  const auto values = words_of(text, Of::values);
  const std::string& source = random.one_of(files);
  const auto others = words_of(source, random.below(8) == 0 ? Of::keys : Of::values);
  if (values.empty()) return;
  const Word value = random.one_of(values);
  const Word other = random.one_of(others);
  text.replace(value.at, value.size, source.substr(other.at, other.size));
}

void key_dropped(std::string& text, Files, Random& random) {
  auto lines = lines_of(text);
  if (lines.empty()) return;
  const std::size_t at = random.below(lines.size());
  const auto begin = lines.begin() + static_cast<std::ptrdiff_t>(at);
  lines.erase(begin, lines.begin() + static_cast<std::ptrdiff_t>(end_of_group(lines, at)));
  text = joined(lines);
}

void key_doubled(std::string& text, Files, Random& random) {
  auto lines = lines_of(text);
  if (lines.empty()) return;
  const std::size_t at = random.below(lines.size());
  const std::size_t end = end_of_group(lines, at);
  const std::vector<std::string> group(lines.begin() + static_cast<std::ptrdiff_t>(at),
                                       lines.begin() + static_cast<std::ptrdiff_t>(end));
  const std::size_t to = random.below(2) == 0 ? end : random.below(lines.size());
  lines.insert(lines.begin() + static_cast<std::ptrdiff_t>(to), group.begin(), group.end());
  text = joined(lines);
}

void key_renamed(std::string& text, Files files, Random& random) {
  const auto keys = words_of(text, Of::keys);
  if (keys.empty()) return;
  const Word key = random.one_of(keys);
  std::string name = text.substr(key.at, key.size);
  const std::size_t at = random.below(name.size());
  const std::string& source = random.one_of(files);
  switch (random.below(5)) {
    case 0:
      name.erase(at, 1);
      break;
    case 1:
      name.insert(at, 1, name[at]);
      break;
    case 2:
      std::swap(name[at], name[name.size() / 2]);
      break;
    case 3:
      name[at] = static_cast<char>(name[at] ^ 0x20);
      break;
    default: {
      const Word other = random.one_of(words_of(source, Of::keys));
      name = source.substr(other.at, other.size);
    }
  }
  text.replace(key.at, key.size, name);
}

void other_type(std::string& text, Files, Random& random) {
  constexpr std::array<std::string_view, 26> kValues{
      "[]",        "{}",        "[1, 2]",      "[[1]]",
      "{a: b}",    "null",      "~",           "true",
      "no",        "on",        "|\n    text", ">-\n    text",
      "\"\"",      "'x'",       "!!str 5",     "!!binary aGk=",
      "!local 5",  "? a",       "- a",         "\"\\u0000\"",
      "\"\\x41\"", "<<: *a",    "@at",         "`tick`",
      "%d",        "2026-13-45"};
  const Word value = value_of_a_key(text, random);
  text.replace(value.at, value.size, random.one_of(kValues));
}

// Each level names the one before nine times: 9 to the 8th nodes for who expands them.
std::string bomb() {
  std::string text = "a0: &a0 [x, x, x, x, x, x, x, x, x]\n";
  for (int level = 1; level <= 8; ++level) {
    const std::string before = "*a" + std::to_string(level - 1);
    text += "a" + std::to_string(level) + ": &a" + std::to_string(level) + " [" + before;
    for (int i = 1; i < 9; ++i) text += ", " + before;
    text += "]\n";
  }
  return text;
}

void aliases(std::string& text, Files, Random& random) {
  const Word value = value_of_a_key(text, random);
  switch (random.below(5)) {
    case 0:
      text.insert(value.at, "&a ");
      break;
    case 1:
      text.replace(value.at, value.size, "*a");
      break;
    case 2:
      text.replace(value.at, value.size, "&a [*a, *a]");
      break;
    case 3:
      text.insert(std::min(text.rfind("end: true"), text.size()), bomb());
      break;
    default:
      text.insert(text.rfind('\n', value.at) + 1, "<<: {a: b}\n");
  }
}

void depth(std::string& text, Files, Random& random) {
  constexpr std::array<std::string_view, 7> kOpen{"[", "{", "- ", "? ", "{a: ", "[[", "[{b: "};
  const std::string_view open = random.one_of(kOpen);
  const std::size_t most = (kLargest - std::min(kLargest, text.size())) / open.size();
  std::size_t levels =
      std::min(most, random.below(2) == 0 ? random.below(40) : random.below(30000));
  std::string nest;
  for (; levels > 0; --levels) nest += open;
  const Word value = value_of_a_key(text, random);
  text.replace(value.at, value.size, nest);
}

void encoding(std::string& text, Files, Random& random) {
  using namespace std::string_view_literals;
  constexpr std::array<std::string_view, 18> kBytes{
      "\xC3"sv,   "\xC0\xAF"sv, "\xED\xA0\x80"sv, "\xF4\x90\x80\x80"sv, "\0"sv,         "\r"sv,
      "\t"sv,     "\u200b"sv,   "\u202e"sv,       "\ufeff"sv,           "\x7f"sv,       "\u2028"sv,
      "\u00e9"sv, "\xFF\xFE"sv, "\u0085"sv,       "\x1b[31m"sv,         "\U0001F4A7"sv, "\u00a0"sv};
  const std::size_t way = random.below(8);
  std::string out;
  for (const char c : text) {
    if (way == 0) out += {c, '\0'};                            // UTF-16, little end first
    if (way == 1) out += c == '\n' ? "\r\n" : std::string{c};  // lines end as elsewhere
    if (way == 2) out += c == ' ' ? "\u00a0" : std::string{c};
  }
  if (way <= 2) text = out;
  if (way == 3) text.insert(0, "\ufeff");
  if (way >= 4) text.insert(random.below(text.size() + 1), random.one_of(kBytes));
}

void cut(std::string& text, Files, Random& random) {
  constexpr std::array<std::string_view, 5> kTails{"", "\n", "end: true\n", "\nend: true\n",
                                                   "\n\nend: true\n"};
  text.resize(random.below(text.size() + 1));
  text += random.one_of(kTails);
}

void line_moved(std::string& text, Files, Random& random) {
  auto lines = lines_of(text);
  if (lines.size() < 2) return;
  const std::size_t a = random.below(lines.size() - 1);
  const std::size_t b = random.below(lines.size() - 1);
  switch (random.below(3)) {
    case 0:
      std::swap(lines[a], lines[b]);
      break;
    case 1:
      lines[a].insert(0, 1 + random.below(3), ' ');
      break;
    default:
      lines[a].erase(0, std::min(1 + random.below(3), indent_of(lines[a])));
  }
  text = joined(lines);
}

void bytes(std::string& text, Files, Random& random) {
  constexpr std::string_view kBytes = "{}[]:,#&*!|>'\"%@`-? \n\t0.9eE_xX~<=\\\xC3\xA9\xFF\x01";
  if (text.empty()) return;
  for (std::size_t n = 1 + random.below(4); n > 0; --n)
    text[random.below(text.size())] = random.one_of(kBytes);
}

void spliced(std::string& text, Files files, Random& random) {
  auto lines = lines_of(text);
  const auto others = lines_of(random.one_of(files));
  if (lines.empty()) return;
  const std::size_t from = random.below(others.size());
  const std::size_t end = std::min(from + 1 + random.below(12), others.size());
  const std::size_t at = random.below(lines.size());
  const std::size_t over = std::min(at + random.below(12), lines.size());
  const auto begin = lines.begin() + static_cast<std::ptrdiff_t>(at);
  lines.erase(begin, lines.begin() + static_cast<std::ptrdiff_t>(over));
  lines.insert(lines.begin() + static_cast<std::ptrdiff_t>(at),
               others.begin() + static_cast<std::ptrdiff_t>(from),
               others.begin() + static_cast<std::ptrdiff_t>(end));
  text = joined(lines);
}

void all_kinds(std::string& text, Files files, Random& random) {
  const auto kinds = mutations();
  for (std::size_t n = 2 + random.below(3); n > 0; --n)
    kinds[random.below(kinds.size() - 1)].apply(text, files, random);
}

constexpr std::array kMutations{
    Mutation{"number to an extreme", extreme_number},
    Mutation{"number moved", near_number},
    Mutation{"some numbers moved", some_numbers},
    Mutation{"group scaled", group_scaled},
    Mutation{"other unit", other_unit},
    Mutation{"other word", other_word},
    Mutation{"key dropped", key_dropped},
    Mutation{"key doubled", key_doubled},
    Mutation{"key renamed", key_renamed},
    Mutation{"other type", other_type},
    Mutation{"anchors and aliases", aliases},
    Mutation{"depth", depth},
    Mutation{"encoding", encoding},
    Mutation{"cut", cut},
    Mutation{"line moved", line_moved},
    Mutation{"bytes", bytes},
    Mutation{"spliced", spliced},
    Mutation{"several kinds", all_kinds},  // the last: it draws from those before it
};

}  // namespace

std::span<const Mutation> mutations() { return kMutations; }

Mutant make_mutant(Files files, std::uint64_t seed, std::uint64_t number) {
  Random random(seed, number);
  Mutant mutant;
  mutant.file = random.below(files.size());
  mutant.kind = static_cast<std::size_t>(number % kMutations.size());
  mutant.text = files[mutant.file];
  kMutations[mutant.kind].apply(mutant.text, files, random);
  if (mutant.text.size() > kLargest) mutant.text.resize(kLargest);
  return mutant;
}

}  // namespace neap::settings
