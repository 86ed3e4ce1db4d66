#include "daemon/settings/source.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <optional>
#include <utility>

#include "daemon/core/limits.h"

namespace neap::settings {
namespace {

constexpr std::string_view kLastLine = "end: true\n";

bool is_continuation(char c) { return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U; }

struct Decoded {
  std::uint32_t code = 0;
  std::size_t length = 0;  // bytes
};

// One character of UTF-8; nothing for what RFC 3629 calls ill-formed (overlong, surrogate, cut).
std::optional<Decoded> decode(std::string_view text) {
  const auto first = static_cast<unsigned char>(text.front());
  if (first < 0x80U) return Decoded{first, 1};
  const std::size_t length = first >= 0xF0U ? 4 : first >= 0xE0U ? 3 : 2;
  if (first < 0xC2U || first > 0xF4U || text.size() < length) return std::nullopt;
  std::uint32_t code = first & (0xFFU >> (length + 1));
  for (std::size_t i = 1; i < length; ++i) {
    if (!is_continuation(text[i])) return std::nullopt;
    code = (code << 6U) | (static_cast<unsigned char>(text[i]) & 0x3FU);
  }
  constexpr std::array<std::uint32_t, 5> kLowest{0, 0, 0x80, 0x800, 0x10000};
  const bool surrogate = code >= 0xD800 && code <= 0xDFFF;
  if (code < kLowest[length] || code > 0x10FFFF || surrogate) return std::nullopt;
  return Decoded{code, length};
}

// Characters that do not show, or that show other text than a parser reads.
struct Hidden {
  std::uint32_t first;
  std::uint32_t last;
  std::string_view what;
  std::string_view remedy;
};
constexpr std::array kHidden{
    Hidden{0x09, 0x09, "a tab", "use spaces: a tab is as wide as each editor likes"},
    Hidden{0x0D, 0x0D, "a carriage return", "save the file with Unix line ends"},
    Hidden{0x00, 0x1F, "a control character", "delete it"},
    Hidden{0x7F, 0x9F, "a control character", "delete it"},
    Hidden{0x200B, 0x200F, "an invisible character", "delete it"},
    Hidden{0x2028, 0x202E, "a line or direction control", "delete it"},
    Hidden{0x2060, 0x2069, "an invisible or direction character", "delete it"},
    Hidden{0xFEFF, 0xFEFF, "a byte order mark", "save the file as UTF-8 without one"},
};

const Hidden* hidden(std::uint32_t code) {
  for (const auto& row : kHidden)
    if (code >= row.first && code <= row.last) return &row;
  return nullptr;
}

// Nearly all of a file is printable ASCII, which nothing here refuses.
void skip_plain(std::string_view& rest, Place& place) {
  const auto other =
      std::find_if(rest.begin(), rest.end(), [](char c) { return c < 0x20 || c > 0x7E; });
  const auto plain = static_cast<std::size_t>(other - rest.begin());
  rest.remove_prefix(plain);
  place.column += static_cast<int>(plain);
}

// What check_lines() found already: the first of a kind tells enough.
struct Told {
  bool ill_formed = false;
  std::array<bool, kHidden.size()> hidden{};
};

// Stops at the first ill-formed or hidden character of a line.
bool check_line(const Source& source, int number, Told& told, Report& report) {
  std::string_view rest = source.line(number);
  Place place{number, 1};
  for (skip_plain(rest, place); !rest.empty(); skip_plain(rest, place)) {
    const auto one = decode(rest);
    if (!one) {
      if (!std::exchange(told.ill_formed, true))
        report.add(place, "", "a byte that is no UTF-8; settings must be UTF-8 text",
                   "save the file as UTF-8");
      return false;
    }
    if (const Hidden* row = hidden(one->code)) {
      if (!std::exchange(told.hidden[static_cast<std::size_t>(row - kHidden.data())], true))
        report.add(place, "", std::string(row->what) + " is refused in settings",
                   std::string(row->remedy));
      return false;
    }
    rest.remove_prefix(one->length);
    ++place.column;
  }
  if (source.line(number).starts_with('%')) {
    report.add({number, 1}, "", "a YAML directive is refused in settings", "delete the line");
    return false;
  }
  return true;
}

bool check_lines(const Source& source, Report& report) {
  bool sound = true;
  Told told;
  for (int number = 1; number <= source.lines(); ++number)
    sound = check_line(source, number, told, report) && sound;
  return sound;
}

std::size_t distance(std::string_view a, std::string_view b) {  // Levenshtein, adjacent swap = 1
  std::vector<std::size_t> before(b.size() + 1);
  std::vector<std::size_t> above(b.size() + 1);
  std::vector<std::size_t> row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) above[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t swap_cost = a[i - 1] == b[j - 1] ? 0 : 1;
      row[j] = std::min({above[j] + 1, row[j - 1] + 1, above[j - 1] + swap_cost});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
        row[j] = std::min(row[j], before[j - 2] + 1);
    }
    std::swap(before, above);
    std::swap(above, row);
  }
  return above[b.size()];
}

}  // namespace

Source::Source(std::string_view text) : text_(text), starts_{0} {
  for (std::size_t i = 0; i < text.size(); ++i)
    if (text[i] == '\n' && i + 1 < text.size()) starts_.push_back(i + 1);
}

std::string_view Source::line(int number) const {
  if (number < 1 || number > lines()) return {};
  const std::size_t start = starts_[static_cast<std::size_t>(number) - 1];
  return text_.substr(start, text_.find('\n', start) - start);
}

Place Source::place_at(std::size_t byte) const {
  const auto after = std::upper_bound(starts_.begin(), starts_.end(), byte);
  const auto line = static_cast<int>(after - starts_.begin());
  const std::string_view before = text_.substr(*(after - 1), byte - *(after - 1));
  return {line, 1 + static_cast<int>(before.size()) -
                    static_cast<int>(std::count_if(before.begin(), before.end(), is_continuation))};
}

std::size_t Source::byte_of(int line, int byte_column) const {
  const int row = std::clamp(line, 0, lines() - 1);
  const std::size_t byte =
      starts_[static_cast<std::size_t>(row)] + static_cast<std::size_t>(std::max(byte_column, 0));
  return std::min(byte, text_.size());
}

Place Source::place_of(int line, int byte_column) const {
  return place_at(byte_of(line, byte_column));
}

std::vector<Problem> Report::sorted() && {
  std::stable_sort(problems_.begin(), problems_.end(), [](const Problem& a, const Problem& b) {
    return a.line != b.line ? a.line < b.line : a.column < b.column;
  });
  return std::move(problems_);
}

bool check_text(const Source& source, Report& report) {
  const std::string_view text = source.text();
  if (text.size() > static_cast<std::size_t>(limits::kSettingsBytes)) {
    report.add({}, "", "the file is over 64 KiB; settings must be at most 65536 bytes",
               "a tent's settings take some 5 KiB: is this the right file?");
    return false;
  }
  const bool sound = check_lines(source, report);
  const bool whole = text == kLastLine || text.ends_with("\n" + std::string(kLastLine));
  if (!whole) {
    const int last = source.lines();
    report.add({last, 1}, "end", "the file does not end in the line \"end: true\"",
               "a file that ends early is refused as truncated; when this one is whole, "
               "make \"end: true\" and a newline its last line");
  }
  return sound && whole;
}

std::string nearest(std::string_view word, const std::vector<std::string_view>& known) {
  const std::size_t allowed = std::max<std::size_t>(1, word.size() / 3);
  std::string_view best;
  std::size_t best_distance = allowed + 1;
  for (const auto candidate : known) {
    const std::size_t d = distance(word, candidate);
    if (d >= best_distance || d >= candidate.size()) continue;
    best_distance = d;
    best = candidate;
  }
  return std::string(best);
}

std::vector<std::string> harmless_characters(std::string_view line) {
  std::vector<std::string> out;
  while (!line.empty()) {
    const auto one = decode(line);
    const std::size_t length = one ? one->length : 1;
    const bool shows = one && hidden(one->code) == nullptr;
    out.push_back(shows ? std::string(line.substr(0, length)) : "?");
    line.remove_prefix(length);
  }
  return out;
}

std::string in_quotes(std::string_view text) { return "\"" + std::string(text) + "\""; }

}  // namespace neap::settings
