// A report as tables, whatever page they are put on.
#pragma once

#include <string>
#include <vector>

#include "daemon/client/look.h"
#include "daemon/client/report.h"

namespace neap::client {

struct ReportPart {
  std::string title;
  Table table;
};

// The summary, then what else there is to tell; none but the summary is empty.
std::vector<ReportPart> parts_of(const Report& report, const words::Style& style);

}  // namespace neap::client
