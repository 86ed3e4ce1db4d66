// The newest values for a node exporter's textfile directory: gauges in base units, each with HELP
// and TYPE, none with a time of its own, so that the text is OpenMetrics and the older format
// alike.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "daemon/journal/reader.h"

namespace neap::tell {

struct MetricFacts {
  std::string tent;
  bool writes = false;  // neapd's journal goes on
  std::int64_t newest_tick = 0;
  std::vector<journal::PointSummary> latest;  // of the last minutes
  std::vector<Alarm> standing;
  struct HookFacts {
    std::string name;
    bool failing = false;
    std::size_t waiting = 0;
  };
  std::vector<HookFacts> hooks;
};

// A reading older than this is left out, not repeated: a gap says that it is not known. Contacts
// are journalled every five minutes. A choice.
constexpr std::int64_t kStaleMs = 6 * 60'000;

std::string metrics_text(const MetricFacts& facts);

}  // namespace neap::tell
