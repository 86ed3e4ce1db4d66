// The report of a day or a grow, from the journal alone.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "daemon/client/energy.h"
#include "daemon/client/excursions.h"
#include "daemon/client/look.h"
#include "daemon/client/water.h"
#include "daemon/core/plan.h"
#include "daemon/journal/reader.h"

namespace neap::client {

struct SettingsChange {
  journal::Stamp at;
  std::vector<std::string> lines;  // "table.soak_limit: 20 min -> 15 min"
};

struct Report {
  std::string name;
  journal::Stamp from, to;
  std::vector<DayTally> days;  // photoperiods and parts of them, in order of time
  DayTally total;
  std::vector<journal::CycleEntry> cycles;
  std::vector<journal::AlarmSpan> alarms;
  std::vector<journal::EventRow> latches;  // set and reset
  std::int64_t readings = 0;               // with a value
  std::int64_t missing = 0;
  std::optional<double> level_first_l, level_last_l;  // reservoir
  std::vector<WaterFinding> water;                    // leaks and clogging, when flagged
  std::vector<journal::PointSummary> points;          // measured and derived, over the span
  std::vector<Excursion> excursions;                  // the worst, with what coincided
  std::vector<journal::MeasurementRow> measurements;  // by hand
  std::vector<SettingsChange> settings;               // accepted ones
  std::vector<EnergyOf> energy;  // when a verb asked for it and the settings tell rated powers
  std::vector<std::string> due;  // care, when a verb asked for it
  std::string trouble;           // what the journal could not give
};

Report make_report(journal::Reader& reader, const Plan& plan, std::int64_t from, std::int64_t to);

nlohmann::json report_json(const Report& report, const words::Style& style);
// "box-room, report of 1 d: 2026-03-21 06:00 to 2026-03-22 06:00".
std::string span_text(const Report& report);
std::string render_report(const Report& report, const Look& look);

// A run beside the same one with the fan at one fixed level.
std::string render_comparison(const Report& ours, const Report& fixed_fan, const Look& look);

// "97 %", or "not known" without any known time.
std::string share_text(Millis part, Millis whole);

}  // namespace neap::client
