// Walks the tree along the schema: reports what is unknown, missing or wrong, fills defaults, and
// lets each row of the schema write into the draft. It goes on after a problem, so that a person
// sees all of them at once.
#pragma once

#include <string>
#include <string_view>

#include "daemon/settings/draft.h"
#include "daemon/settings/node.h"
#include "daemon/settings/schema.h"
#include "daemon/settings/source.h"

namespace neap::settings {

struct Walk {
  Draft& draft;
  Report& report;
};

// Reads one group. `path` is empty for the root.
void read_section(Walk& walk, const Section& section, const Node& node, const std::string& path);

// The parts whose keys come from other tables: drivers, points, the simulated tent (mappings.cpp).
void read_driver_params(Walk& walk, const Node* node, const std::string& path);
void read_channel_points(Walk& walk, const Node& node, const std::string& path);
void read_offsets(Walk& walk, const Node& node, const std::string& path);
void read_plant_parameters(Walk& walk, const Node& node, const std::string& path);

// Reports a key that `known` does not have, with the likeliest meant.
void report_unknown(Walk& walk, const Node& key, const std::string& path,
                    const std::vector<std::string_view>& known, std::string_view what);

std::string join(const std::string& path, std::string_view name);  // "table.fill_limit"

}  // namespace neap::settings
