// The journal's records as JSON, with the fields of daemon/journal/reader.h. Durations are `_s`,
// what is not known is null.
#pragma once

#include <nlohmann/json.hpp>

#include "daemon/client/look.h"
#include "daemon/journal/reader.h"

namespace neap::client {

nlohmann::json stamp_json(const journal::Stamp& stamp);
nlohmann::json because_json(const Because& because, const words::Style& style);
nlohmann::json event_json(const journal::EventRow& row, const words::Style& style);
nlohmann::json reading_json(const journal::ReadingRow& row);
nlohmann::json summary_json(const journal::PointSummary& summary);
nlohmann::json cycle_json(const journal::CycleEntry& cycle);
nlohmann::json tally_json(const DayTally& tally);
nlohmann::json alarm_json(const journal::AlarmSpan& span, const words::Style& style);
nlohmann::json measurement_json(const journal::MeasurementRow& row);

// "2026-06-01 06:00:05", or "tick 4294967" where no clock was known.
std::string stamp_text(const journal::Stamp& stamp);
// Without the seconds.
std::string minute_text(const journal::Stamp& stamp);

double as_seconds(Millis d);

}  // namespace neap::client
