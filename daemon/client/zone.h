// Civil time in the settings' time zone.
#pragma once

#include <cstdint>
#include <string>

#include "daemon/core/instant.h"

namespace neap::client {

// Puts `zone` into TZ (an empty one is UTC) and converts; the daemon does the same.
CivilTime civil_at(const std::string& zone, std::int64_t unix_ms);

// "Mon 2026-06-01".
std::string weekday_date(std::int32_t date);

}  // namespace neap::client
