// Settings as a flat list of what they say, defaults included, in the order of the schema: what two
// revisions are compared by.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "daemon/settings/source.h"

namespace neap::settings {

struct Said {
  std::string path;   // "table.soak_limit", "programme.stages[leafing].light"
  std::string text;   // as written, or the default
  std::string value;  // the same for two spellings of one value: 90 s and 1.5 min
  Place place;        // {0, 0} for a default
};

// `text` must have been loaded without a problem.
std::vector<Said> flatten(std::string_view text);

}  // namespace neap::settings
