#include "daemon/client/look.h"

#include <algorithm>
#include <array>

namespace neap::client {
namespace {

constexpr std::size_t kGap = 2;         // between the columns of a table
constexpr std::size_t kNarrowest = 16;  // a last column gets at least this

constexpr std::string_view kBegin = "\x1b[";  // of a code, which ends with an m
constexpr std::string_view kPlainAgain = "0";

struct ToneRow {
  Tone tone;
  std::string_view code;
};
constexpr std::array kTones{
    ToneRow{Tone::plain, ""},   ToneRow{Tone::good, "32"}, ToneRow{Tone::warning, "33"},
    ToneRow{Tone::bad, "1;31"}, ToneRow{Tone::quiet, "2"}, ToneRow{Tone::strong, "1"},
};

std::string_view code_of(Tone tone) {
  return std::find_if(kTones.begin(), kTones.end(),
                      [&](const ToneRow& row) { return row.tone == tone; })
      ->code;
}

Tone tone_of(std::string_view code) {
  const auto row = std::find_if(kTones.begin(), kTones.end(),
                                [&](const ToneRow& each) { return each.code == code; });
  return row == kTones.end() ? Tone::plain : row->tone;
}

bool begins_character(char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }

// Bytes of the first `count` characters.
std::size_t bytes_of(std::string_view text, std::size_t count) {
  std::size_t seen = 0;
  for (std::size_t i = 0; i < text.size(); ++i)
    if (begins_character(text[i]) && seen++ == count) return i;
  return text.size();
}

std::string padding(std::size_t width, std::string_view text) {
  const std::size_t used = columns(text);
  return std::string(used < width ? width - used : 0, ' ');
}

}  // namespace

std::string toned(const Look& look, Tone tone, std::string_view text) {
  const std::string_view code = code_of(tone);
  if (!look.color || code.empty() || text.empty()) return std::string(text);
  const auto sequence = [](std::string_view of) {
    return std::string(kBegin) + std::string(of) + "m";
  };
  return sequence(code) + std::string(text) + sequence(kPlainAgain);
}

std::vector<TonedLine> toned_lines(std::string_view text) {
  std::vector<TonedLine> lines;
  Tone tone = Tone::plain;
  while (!text.empty()) {
    TonedLine& line = lines.emplace_back();
    std::string_view rest = text.substr(0, text.find('\n'));
    text.remove_prefix(std::min(rest.size() + 1, text.size()));
    while (!rest.empty()) {
      if (rest.starts_with(kBegin)) {
        rest.remove_prefix(kBegin.size());
        tone = tone_of(rest.substr(0, rest.find('m')));
        rest.remove_prefix(std::min(rest.find('m'), rest.size() - 1) + 1);
        continue;
      }
      const std::size_t end = std::min(rest.find(kBegin), rest.size());
      line.push_back({tone, std::string(rest.substr(0, end))});
      rest.remove_prefix(end);
    }
  }
  return lines;
}

std::size_t columns(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), begins_character));
}

std::string clipped(std::string_view text, std::size_t width) {
  if (columns(text) <= width) return std::string(text);
  if (width <= 2) return std::string(text.substr(0, bytes_of(text, width)));
  return std::string(text.substr(0, bytes_of(text, width - 2))) + "..";
}

std::string wrapped(std::string_view text, std::size_t width, std::size_t indent) {
  std::string out;
  bool first = true;
  while (!text.empty()) {
    const std::size_t room = first ? width : width - std::min(indent, width - 1);
    std::size_t take = text.size();
    if (columns(text) > room) {
      take = bytes_of(text, room);
      const std::size_t space = text.rfind(' ', take);
      if (space != std::string_view::npos && space > 0) take = space;
    }
    if (!first) out += "\n" + std::string(indent, ' ');
    out += text.substr(0, take);
    text.remove_prefix(take);
    text.remove_prefix(std::min(text.find_first_not_of(' '), text.size()));
    first = false;
  }
  return out;
}

std::string joined(const std::vector<std::string>& parts, std::size_t width) {
  std::string text;
  std::size_t used = 0;
  for (const std::string& part : parts) {
    const std::size_t size = columns(part) + 1;
    if (used > 0 && used + size > width + 1) {
      text.back() = '\n';
      text += "  ";
      used = 2;
    }
    text += part + " ";
    used += size;
  }
  text.pop_back();
  return text;
}

std::vector<std::size_t> Table::widths() const {
  std::vector<std::size_t> width(sides_.size(), 0);
  const auto widen = [&](const std::vector<Cell>& row) {
    for (std::size_t i = 0; i < row.size() && i < width.size(); ++i)
      width[i] = std::max(width[i], columns(row[i].text));
  };
  widen(head_);
  for (const auto& row : rows_) widen(row);
  return width;
}

void Table::put(const std::vector<Cell>& row, const std::vector<std::size_t>& width,
                std::size_t page_width, std::size_t indent, const Look& look,
                std::string& out) const {
  std::string line(indent, ' ');
  std::size_t at = indent;
  for (std::size_t i = 0; i < row.size(); ++i) {
    const bool last = i + 1 == row.size();
    const Cell& cell = row[i];
    if (i > 0) {
      line += std::string(kGap, ' ');
      at += kGap;
    }
    if (sides_[i] == Side::right) line += padding(width[i], cell.text);
    const std::size_t room = std::max(page_width > at ? page_width - at : 0, kNarrowest);
    std::string text = last && sides_[i] == Side::left ? wrapped(cell.text, room) : cell.text;
    for (std::size_t from = 0; (from = text.find('\n', from)) != std::string::npos; from += at + 1)
      text.insert(from + 1, std::string(at, ' '));
    line += toned(look, cell.tone, text);
    if (sides_[i] == Side::left && !last) line += padding(width[i], cell.text);
    at += width[i];
  }
  out += line.substr(0, line.find_last_not_of(' ') + 1) + "\n";
}

std::string Table::text(const Look& look, std::size_t width, std::size_t indent) const {
  std::string out;
  if (rows_.empty()) return out;
  const std::vector<std::size_t> each = widths();
  if (!head_.empty()) {
    std::vector<Cell> head = head_;
    for (Cell& cell : head) cell.tone = Tone::quiet;
    put(head, each, width, indent, look, out);
  }
  for (const auto& row : rows_) put(row, each, width, indent, look, out);
  return out;
}

}  // namespace neap::client
