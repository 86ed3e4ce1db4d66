// A report as one HTML page to take home: style, tables and curves in one file, without a script
// and without anything from a network, which its own policy forbids. Pure.
#pragma once

#include <string>

#include "daemon/client/chart.h"
#include "daemon/client/report.h"

namespace neap::client {

// Figures are those of parts_of(), the curves those of `chart`.
std::string html_page(const Report& report, const Chart& chart, const words::Style& style);

}  // namespace neap::client
