// How text is laid out: width, colour, wrapping, tables. Pure; nothing here knows a terminal.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/words/words.h"

namespace neap::client {

// A person on a telephone reads plain `neap`; everything else is for 80 columns.
constexpr std::size_t kPhoneWidth = 42;
constexpr std::size_t kPhoneLines = 20;
constexpr std::size_t kPageWidth = 80;

struct Look {
  bool color = false;
  words::Style style;
  std::size_t width = kPageWidth;  // that status and alarms are laid out for
};

// A tone never says anything that the words do not say too.
enum class Tone { plain, good, warning, bad, quiet, strong };

std::string toned(const Look& look, Tone tone, std::string_view text);

struct Toned {
  Tone tone = Tone::plain;
  std::string text;
};
using TonedLine = std::vector<Toned>;
// What toned() made with colour, taken apart again, line by line: for a screen that has attributes
// of its own.
std::vector<TonedLine> toned_lines(std::string_view text);

// Columns that a text takes on a terminal: code points, not bytes.
std::size_t columns(std::string_view text);
// Cut to `width` columns, with ".." at the end of what was cut.
std::string clipped(std::string_view text, std::size_t width);
// Broken at spaces to lines of at most `width` columns; lines after the first begin with `indent`
// spaces. A word longer than a line is broken. No newline at the end.
std::string wrapped(std::string_view text, std::size_t width, std::size_t indent = 0);
// Words and figures one after another, broken only between two of them; as wrapped().
std::string joined(const std::vector<std::string>& parts, std::size_t width);

struct Cell {
  std::string text;
  Tone tone = Tone::plain;
  Cell() = default;
  Cell(std::string words, Tone how = Tone::plain) : text(std::move(words)), tone(how) {}
  Cell(const char* words) : text(words) {}
  Cell(std::string_view words) : text(words) {}
};

// Columns two spaces apart, numbers to the right. The last column is wrapped to what is left of the
// width. An empty table is an empty text.
class Table {
 public:
  enum class Side { left, right };
  explicit Table(std::vector<Side> sides) : sides_(std::move(sides)) {}
  void head(std::vector<Cell> cells) { head_ = std::move(cells); }
  void add(std::vector<Cell> cells) { rows_.push_back(std::move(cells)); }
  bool empty() const { return rows_.empty(); }
  // For a page of another kind.
  const std::vector<Side>& sides() const { return sides_; }
  const std::vector<Cell>& heading() const { return head_; }
  const std::vector<std::vector<Cell>>& rows() const { return rows_; }
  std::string text(const Look& look, std::size_t width, std::size_t indent = 0) const;

 private:
  std::vector<std::size_t> widths() const;
  void put(const std::vector<Cell>& row, const std::vector<std::size_t>& width,
           std::size_t page_width, std::size_t indent, const Look& look, std::string& out) const;

  std::vector<Side> sides_;
  std::vector<Cell> head_;
  std::vector<std::vector<Cell>> rows_;
};

}  // namespace neap::client
