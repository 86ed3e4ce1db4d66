// Turning over between grows, step by step with a person at the tent: archive, empty, disinfect,
// rinse, probes, proofs, baselines. Every step is confirmed by the person and written down, so that
// the walk can be broken off and taken up again, by another hand and days later. While it is under
// way the programme floods nothing: a fallow stage is in force, which no clock ends, and that is
// looked at before every step.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/client/commission.h"
#include "daemon/client/questions.h"
#include "daemon/journal/reader.h"
#include "daemon/settings/care.h"

namespace neap::client {

inline constexpr std::string_view kTurnoverBegin = "begin";
inline constexpr std::string_view kTurnoverEnd = "end";

// What was told of the turnover that is under way, by the diary.
struct TurnoverRecord {
  bool under_way = false;
  std::int64_t began_unix_ms = 0;
  std::vector<journal::DiaryRow> steps;  // done and skipped
  const journal::DiaryRow* told(std::string_view step) const;
  void take(const journal::DiaryRow& row);  // of kind turnover, in the order of time
  std::int64_t last_unix_ms() const;        // of the newest step, or of its begin
};
TurnoverRecord turnover_of(const std::vector<journal::DiaryRow>& diary);

// mL of bleach for so many litres: free chlorine is mg/L in the water, grams in 100 mL in the
// bottle, so mL = L * mg/L / (10 * pct).
double bleach_ml(const settings::Turnover& settings, double litres);

// A complete flood as the journal has it.
struct FloodSpan {
  std::int64_t from_unix_ms = 0;
  std::int64_t to_unix_ms = 0;  // drained
};

// What the walk knows of the tent and does, besides what neapd says.
struct TurnoverTent {
  std::string fallow_stage;  // of the settings; empty: there is none
  double reservoir_l = 0;
  settings::Turnover settings{};
  std::string grow;  // that is under way; empty: none
  std::function<std::int64_t()> now_unix_ms;
  std::function<void(std::string_view step, std::string_view mark, std::optional<double> figure,
                     const std::string& says)>
      tell;
  std::function<void()> end_grow;
  // The copy's name, and what is in it; a Failure when it did not succeed.
  std::function<std::string(const std::string& path)> archive;
  std::function<std::vector<FloodSpan>(std::int64_t since_unix_ms)> floods;  // oldest first
  std::function<bool(std::string_view quantity, std::int64_t since_unix_ms)> measured;
};

struct TurnoverStep {
  std::string_view step;
  std::string mark;  // done, skipped; empty: not yet
  std::string says;
};
// The steps as they stand, in their order.
std::vector<TurnoverStep> turnover_steps(const TurnoverRecord& record);

// Goes on from the first step that nothing was told of. A Failure where it cannot go on; what was
// told until then stays.
void turn_over(Questions& questions, const AskDaemon& ask, const TurnoverTent& tent,
               const TurnoverRecord& record);

}  // namespace neap::client
