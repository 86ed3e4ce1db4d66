// The journal as daemon/identify wants it: probes, levels and floods on one grid of time.
#pragma once

#include <cstdint>

#include "daemon/core/plan.h"
#include "daemon/identify/record.h"
#include "daemon/journal/reader.h"

namespace neap::client {

// Of [from, to), in ticks. Readings are held as long as the daemon believes them.
identify::Record tent_record(journal::Reader& reader, const Plan& plan, std::int64_t from,
                             std::int64_t to);

}  // namespace neap::client
