// Civil time in the settings' time zone.
#pragma once

#include <cstdint>
#include <string>

#include "daemon/client/session.h"
#include "daemon/core/instant.h"

namespace neap::client {

// Puts `zone` into TZ (an empty one is UTC) and converts; the daemon does the same.
CivilTime civil_at(const std::string& zone, std::int64_t unix_ms);

// The moment of a civil time in `zone`; of one that the clocks leave out or show twice, one of the
// two that are meant.
std::int64_t unix_of(const std::string& zone, CivilTime civil);

// The zone of the settings in force; without any, that of this machine.
std::string zone_in_force(const Session& session);
// Of the tent: "14:05".
std::string clock_of(const Session& session, std::int64_t unix_ms);

// "Mon 2026-06-01".
std::string weekday_date(std::int32_t date);

}  // namespace neap::client
