// A reader for the plain comma-separated tables of the reference data: no quotes, a header line,
// comment lines with `#`.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

namespace neap::reference {

class Csv {
 public:
  explicit Csv(const std::string& path) {
    std::ifstream file{path};
    std::string line;
    while (std::getline(file, line)) {
      if (!line.empty() && line.back() == '\r') line.pop_back();
      if (line.empty() || line.front() == '#') continue;
      (header_.empty() ? header_ : rows_.emplace_back()) = split(line);
    }
    EXPECT_FALSE(rows_.empty()) << path << " has no rows";
  }

  std::size_t size() const { return rows_.size(); }

  // The cell as it stands; a missing column or cell fails the test and reads as "".
  const std::string& text(std::size_t row, const std::string& column) const {
    static const std::string kNone;
    const auto at = std::find(header_.begin(), header_.end(), column);
    const auto index = static_cast<std::size_t>(at - header_.begin());
    if (at == header_.end() || index >= rows_[row].size()) {
      ADD_FAILURE() << "no cell of column " << column << " in row " << row;
      return kNone;
    }
    return rows_[row][index];
  }

  double number(std::size_t row, const std::string& column) const {
    const std::string& cell = text(row, column);
    char* end = nullptr;
    const double value = std::strtod(cell.c_str(), &end);
    EXPECT_TRUE(end != cell.c_str() && *end == '\0') << "not a number: '" << cell << "'";
    return value;
  }

 private:
  static std::vector<std::string> split(const std::string& line) {
    std::vector<std::string> cells;
    std::istringstream in{line};
    for (std::string cell; std::getline(in, cell, ',');) cells.push_back(cell);
    if (line.back() == ',') cells.emplace_back();
    return cells;
  }

  std::vector<std::string> header_;
  std::vector<std::vector<std::string>> rows_;
};

}  // namespace neap::reference
