// Records as comma-separated values after RFC 4180, for spreadsheets, R and pandas: CRLF, quotes
// where a cell needs them, a decimal point whatever the locale, times in ISO 8601 with their
// offset.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/journal/reader.h"

namespace neap::client {

std::string csv_row(const std::vector<std::string>& cells);

// "2026-06-01T14:05:00+02:00"; empty where no clock was known.
std::string iso_time(const journal::Stamp& stamp);
// Ten digits at most, no trailing zeros: "23.4"; empty for none.
std::string number_cell(std::optional<double> value);

}  // namespace neap::client
