#include "daemon/client/csv.h"

#include <array>
#include <charconv>
#include <cstdio>
#include <cstdlib>

#include "daemon/words/words.h"

namespace neap::client {

std::string csv_row(const std::vector<std::string>& cells) {
  std::string row;
  for (const std::string& cell : cells) {
    if (&cell != &cells.front()) row += ',';
    if (cell.find_first_of(",\"\r\n") == std::string::npos) {
      row += cell;
      continue;
    }
    row += '"';
    for (const char c : cell) row += c == '"' ? std::string("\"\"") : std::string(1, c);
    row += '"';
  }
  return row + "\r\n";
}

std::string iso_time(const journal::Stamp& stamp) {
  if (!stamp.unix_ms) return {};
  std::string text = words::local_time(*stamp.unix_ms, stamp.utc_offset_s);
  text[10] = 'T';
  const int minutes_off = std::abs(stamp.utc_offset_s) / 60;
  std::array<char, 32> offset{};
  std::snprintf(offset.data(), offset.size(), "%c%02d:%02d", stamp.utc_offset_s < 0 ? '-' : '+',
                minutes_off / 60, minutes_off % 60);
  return text + offset.data();
}

std::string number_cell(std::optional<double> value) {
  if (!value) return {};
  constexpr int kDigits = 10;
  std::array<char, 32> text{};
  const auto [end, error] = std::to_chars(text.data(), text.data() + text.size(), *value,
                                          std::chars_format::general, kDigits);
  return error == std::errc{} ? std::string(text.data(), end) : std::string();
}

}  // namespace neap::client
