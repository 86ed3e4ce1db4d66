// The settings text with its lines, so that every problem can say where it stands.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/settings/settings.h"

namespace neap::settings {

struct Place {
  int line = 0;    // 1-based
  int column = 0;  // 1-based, in characters
};

// A view: the text must outlive it.
class Source {
 public:
  explicit Source(std::string_view text);

  std::string_view text() const { return text_; }
  int lines() const { return static_cast<int>(starts_.size()); }
  std::string_view line(int number) const;  // 1-based, without its newline; empty outside the text
  Place place_at(std::size_t byte) const;
  // From a parser's 0-based line and byte column.
  Place place_of(int line, int byte_column) const;
  std::size_t byte_of(int line, int byte_column) const;

 private:
  std::string_view text_;
  std::vector<std::size_t> starts_;
};

// Collects problems; the loader's parts only ever add.
class Report {
 public:
  void add(Place place, std::string key, std::string message, std::string remedy) {
    problems_.push_back(
        {place.line, place.column, std::move(key), std::move(message), std::move(remedy)});
  }
  bool empty() const { return problems_.empty(); }
  std::size_t size() const { return problems_.size(); }
  std::vector<Problem> sorted() &&;  // in order of line and column

 private:
  std::vector<Problem> problems_;
};

// What can be refused before any parser sees the text: size, encoding, control characters, tabs,
// directives, the last line. False when the parser should not be started.
bool check_text(const Source& source, Report& report);

// The nearest of `known` that a slip of the fingers would explain; empty when none is near.
std::string nearest(std::string_view word, const std::vector<std::string_view>& known);
// The characters of a line, made harmless for a terminal: what hides, steers or is no UTF-8 is "?".
std::vector<std::string> harmless_characters(std::string_view line);
std::string in_quotes(std::string_view text);

}  // namespace neap::settings
