// When the reservoir's level was not all of the water: from the start of a flood until its tray has
// dripped out water is missing that comes back. A top-up by such a level would overflow.
#pragma once

#include <cstdint>
#include <utility>
#include <vector>

#include "daemon/journal/reader.h"

namespace neap::client {

class WaterAway {
 public:
  // By what the journal has of floods from a day before `from` on.
  WaterAway(journal::Reader& reader, std::int64_t from);
  bool at(std::int64_t tick) const;

 private:
  std::vector<std::pair<std::int64_t, std::int64_t>> spans_;
};

}  // namespace neap::client
