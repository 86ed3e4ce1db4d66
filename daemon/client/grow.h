// Grows as the diary tells of them, and what they came to by the journal: stages, air, floods,
// water, harvest. All that is asked here is kept for ever (schema/journal/0005_record.sql), so a
// grow of two years ago can still be put beside that of today.
#pragma once

#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "daemon/client/look.h"
#include "daemon/core/plan.h"
#include "daemon/journal/reader.h"

namespace neap::client {

struct Grow {
  std::string name;
  std::string crop;  // empty: not told
  std::optional<double> plants;
  journal::Stamp from;
  std::optional<journal::Stamp> to;  // none: under way
  // Numbers of the entries that told of its start and its end; none while they wait in the spool,
  // and of an end that was the next grow's start.
  std::optional<std::int64_t> start_number, end_number;
  std::vector<journal::DiaryRow> notes;     // in words
  std::vector<journal::DiaryRow> harvests;  // figure is grams
  std::string end_words;                    // told at its end
  double harvest_g() const;
  std::optional<double> harvest_g_per_plant() const;  // none without plants or harvest
};

// In order of their starts. A start ends the grow before it: one table, one grow.
std::vector<Grow> grows_of(const std::vector<journal::DiaryRow>& diary);
// The one under way; nullptr when there is none.
const Grow* grow_under_way(const std::vector<Grow>& grows);

// Hand measurements of one quantity.
struct HandRange {
  int count = 0;
  double lowest = 0, mean = 0, highest = 0;  // of them; nothing when there are none
  // Change a day between measurements with nothing poured in between; none from less than half a
  // day of such times.
  std::optional<double> drift_per_day;
};

// A part of a grow. Photoperiods count where their middle lies.
struct PartFigures {
  std::string stage;  // empty: the whole
  double days = 0;
  DayTally tally;  // of its photoperiods
  int photoperiods = 0;
  std::map<FloodOutcome, int> floods;
  double water_used_l = 0;  // out of the reservoir, top-ups counted
  int water_days = 0;       // photoperiods for which that is known
  HandRange ph, ec;
  int alarms = 0;  // raised
  std::optional<double> canopy_mean_c, humidity_mean_pct;
};
struct GrowFigures {
  Grow grow;
  PartFigures whole;
  std::vector<PartFigures> stages;  // in order; one that was entered twice is there twice
  std::string trouble;              // what the journal could not give
};
GrowFigures grow_figures(journal::Reader& reader, const Plan& plan, const Grow& grow);

nlohmann::json grow_json(const Grow& grow);
nlohmann::json figures_json(const GrowFigures& figures);

// `width` is that of a page or of a telephone.
std::string render_grows(const std::vector<Grow>& grows, const Look& look, std::size_t width);
std::string render_grow(const GrowFigures& figures, const Look& look, std::size_t width);
std::string render_grows_compared(const GrowFigures& one, const GrowFigures& other,
                                  const Look& look, std::size_t width);

}  // namespace neap::client
