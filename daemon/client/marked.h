// What pictures of a journal need of it besides the readings: floods and alarms as stretches of
// ticks, the tent's own clock, and how long a reading stands.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "daemon/client/panel.h"
#include "daemon/core/plan.h"
#include "daemon/journal/reader.h"

namespace neap::client {

// The point whose sensor a value comes from: of a derived one its humidity.
Point source_of(Point point);
// A value stands as long as the scan lets it stand; a contact until it would be noted anyway.
Millis held(const Plan& plan, Point point);

// Milliseconds since 1970-01-01 00:00 local; none where no clock was known.
std::optional<std::int64_t> local_ms_of(const journal::Stamp& stamp);

// From the pump's start to the end of drain.
std::vector<Stretch> floods_of(journal::Reader& reader, Stretch span);
// What of an alarm lies in the span; to its end when it still stands.
Stretch stretch_of(const journal::AlarmSpan& alarm, Stretch span);

}  // namespace neap::client
