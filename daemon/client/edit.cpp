#include "daemon/client/edit.h"

#include <algorithm>
#include <vector>

namespace neap::client {
namespace {

std::vector<std::string> lines_of(std::string_view text) {
  std::vector<std::string> lines;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    lines.emplace_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return lines;
}

std::size_t indent_of(std::string_view line) {
  return std::min(line.find_first_not_of(' '), line.size());
}

// Blank lines and comments belong to whatever surrounds them.
bool says_nothing(std::string_view line) {
  const std::size_t at = indent_of(line);
  return at == line.size() || line[at] == '#';
}

bool opens(std::string_view line, std::string_view block) {
  if (line.substr(0, block.size()) != block || line.substr(block.size(), 1) != ":") return false;
  return says_nothing(line.substr(block.size() + 1));
}

}  // namespace

std::optional<std::string> with_setting(std::string_view text, std::string_view block,
                                        std::string_view key, std::string_view value) {
  std::vector<std::string> lines = lines_of(text);
  const auto head = std::find_if(lines.begin(), lines.end(),
                                 [&](const std::string& line) { return opens(line, block); });
  if (head == lines.end()) return std::nullopt;
  const auto first = std::find_if_not(head + 1, lines.end(), says_nothing);
  if (first == lines.end() || indent_of(*first) == 0) return std::nullopt;
  const std::string indent(indent_of(*first), ' ');
  const std::string start = indent + std::string(key) + ":";
  const std::string made = start + " " + std::string(value);
  auto line = first;
  while (line != lines.end() && (says_nothing(*line) || indent_of(*line) > 0) &&
         line->rfind(start, 0) != 0)
    ++line;
  if (line != lines.end() && line->rfind(start, 0) == 0)
    *line = made;
  else
    lines.insert(first, made);
  std::string out;
  for (const std::string& each : lines) out += each + "\n";
  return out;
}

}  // namespace neap::client
