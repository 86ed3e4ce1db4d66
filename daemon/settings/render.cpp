#include <algorithm>
#include <string>

#include "daemon/settings/settings.h"
#include "daemon/settings/source.h"

namespace neap::settings {
namespace {

constexpr std::size_t kShown = 96;  // characters of a line that a terminal shows whole

// Characters of UTF-8, control characters made harmless; what is no UTF-8 becomes "?".
std::vector<std::string> characters(std::string_view line) {
  std::vector<std::string> out;
  for (const char c : line) {
    const auto byte = static_cast<unsigned char>(c);
    const bool continues = (byte & 0xC0U) == 0x80U;
    if (continues && !out.empty() && out.back().size() < 4 && out.back() != "?" &&
        static_cast<unsigned char>(out.back().front()) >= 0xC2U) {
      out.back().push_back(c);
    } else {
      out.push_back(byte < 0x20U || byte == 0x7FU || continues || byte > 0xF4U ? "?"
                                                                               : std::string(1, c));
    }
  }
  for (auto& one : out) {
    const auto first = static_cast<unsigned char>(one.front());
    const std::size_t length = first < 0x80U ? 1 : first < 0xE0U ? 2 : first < 0xF0U ? 3 : 4;
    const bool c1 = one.size() == 2 && first == 0xC2U && static_cast<unsigned char>(one[1]) < 0xA0U;
    if (one.size() != length || c1) one = "?";
  }
  return out;
}

// The line, cut to a window around the column when it is long, and a caret below.
std::string excerpt(std::string_view line, int column) {
  const auto all = characters(line);
  const std::size_t at = static_cast<std::size_t>(std::max(column, 1)) - 1;
  const std::size_t from = at > kShown * 3 / 4 ? at - kShown / 2 : 0;
  std::string text = from > 0 ? "..." : "";
  std::string caret(from > 0 ? 3 : 0, ' ');
  for (std::size_t i = from; i < all.size() && i < from + kShown; ++i) text += all[i];
  if (all.size() > from + kShown) text += "...";
  caret += std::string(at - from, ' ') + "^";
  return "  " + text + "\n  " + caret + "\n";
}

}  // namespace

std::string render(const std::string& file, std::string_view text, const Problem& problem) {
  std::string out = file + ":";
  if (problem.line > 0)
    out += std::to_string(problem.line) + ":" + std::to_string(problem.column) + ":";
  out += " " + problem.message + "\n";
  if (problem.line > 0) out += excerpt(Source(text).line(problem.line), problem.column);
  if (!problem.remedy.empty()) out += "  " + problem.remedy + "\n";
  return out;
}

}  // namespace neap::settings
