// Where the water went, from the journal alone: losses, leaks, times of floods, EC.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "daemon/client/look.h"
#include "daemon/core/plan.h"
#include "daemon/journal/reader.h"
#include "daemon/solution/leak_watch.h"
#include "daemon/solution/mix.h"
#include "daemon/solution/trends.h"

namespace neap::client {

struct LeakTold {
  solution::LeakSign sign = solution::LeakSign::idle_slope;
  journal::Stamp since, flagged, last;
  double l_per_h = 0;
  bool stands = false;      // said so within the newest two days
  bool lost_sight = false;  // does not stand, and has not ended either
};
struct TrendTold {
  solution::Trend trend;
  std::optional<journal::Stamp> flagged, reaches;
};
struct WaterView {
  std::string name;
  journal::Stamp from, to;
  bool level_fitted = false;  // by the settings in force
  bool level_known = false;   // the journal has readings of it
  std::vector<LeakTold> leaks;
  solution::Detectability idle;
  std::vector<std::pair<journal::Stamp, solution::DayLoss>> days;
  std::optional<double> per_day_l, level_l, needed_l, days_left;
  std::optional<journal::Stamp> refill;
  std::optional<TrendTold> fill, drain;
  std::optional<double> ec, ec_per_day;  // mS/cm, and over the newest week
  std::optional<solution::Taken> taken;  // since somebody poured, 12 h at least and 2 d at most
  double taken_h = 0;                    // over so many hours
  std::optional<double> water_c, oxygen_mg_l;
};

// Detectors want a history: levels of up to `kWaterDays` before `to`, floods of all the journal.
constexpr int kWaterDays = 45;
WaterView water_view(journal::Reader& reader, const Plan& plan, std::int64_t to);

nlohmann::json water_json(const WaterView& view);
std::string render_water(const WaterView& view, const Look& look, std::size_t width);
// What is wrong, a sentence each with the day it was flagged and what to do: for the report. Empty
// when nothing was flagged, or not between the two ticks.
struct WaterFinding {
  std::string title;  // leak, fill, drain
  std::string text;
};
std::vector<WaterFinding> water_findings(const WaterView& view, std::int64_t from, std::int64_t to);

}  // namespace neap::client
