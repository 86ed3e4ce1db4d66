#include <algorithm>
#include <string>

#include "daemon/settings/settings.h"
#include "daemon/settings/source.h"

namespace neap::settings {
namespace {

constexpr std::size_t kShown = 96;  // characters of a line that a terminal shows whole

// The line, cut to a window around the column when it is long, and a caret below.
std::string excerpt(std::string_view line, int column) {
  const auto all = harmless_characters(line);
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
