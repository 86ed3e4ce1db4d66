// A world lived through: the real scan and the real state file over the simulated tent, with the
// shell between them modelled (what is driven when, what a crash leaves). The whole daemon is
// exercised by tests/scenarios and tests/shell; this is for thousands of weeks.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "tests/campaign/oracle.h"
#include "tests/campaign/rows.h"
#include "tests/campaign/world.h"

namespace neap::campaign {

struct Result {
  std::vector<Violation> violations;
  int floods_complete = 0;
  std::int64_t scans = 0;
  int crashes = 0;
  std::uint64_t trace = 0;  // hash of every change of a pin
};

// `dir`: a folder of one's own for the state file. `trace`: told to standard output what happens.
Result live(const World& world, const std::string& dir, Seen& seen, bool trace);

}  // namespace neap::campaign
