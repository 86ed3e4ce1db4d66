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
// At the start of the walk's own floods.
inline constexpr std::string_view kBleachFlood = "bleach flood";
inline constexpr std::string_view kRinseFlood = "rinse flood";
inline constexpr std::string_view kDose = "dose";  // measured out; skipped: none was poured in
inline constexpr std::string_view kDone = "done";

// What was told of the newest turnover, by the diary.
struct TurnoverRecord {
  bool under_way = false;
  std::int64_t began_unix_ms = 0;
  std::optional<journal::DiaryRow> began;  // none: there was none yet
  std::optional<journal::DiaryRow> ended;  // its end, or the start of the grow that ended it
  // Done and skipped; each dose of bleach; and the start of each flood of the walk's own, with
  // bleach or to rinse.
  std::vector<journal::DiaryRow> steps;
  const journal::DiaryRow* told(std::string_view step) const;  // the newest; null: not told
  bool done(std::string_view step) const;                      // told, and not skipped
  void take(const journal::DiaryRow& row);  // of kind turnover, in the order of time
  void end_by(const journal::DiaryRow& row);
  bool wants_rinse() const;  // bleach was measured out or flooded, and is not rinsed off yet
};
// A grow that started after its begin ended it, too: what was left of it is no more to be done.
TurnoverRecord turnover_of(const std::vector<journal::DiaryRow>& diary);

// mL of bleach for so many litres: free chlorine is mg/L in the water, grams in 100 mL in the
// bottle, so mL = L * mg/L / (10 * pct).
double bleach_ml(double chlorine_mg_per_l, double bleach_pct, double litres);

// A complete flood as the journal has it.
struct FloodSpan {
  std::int64_t from_unix_ms = 0;
  std::int64_t to_unix_ms = 0;  // drained
};

// What the walk knows of the tent and does, besides what neapd says.
struct TurnoverTent {
  std::string fallow_stage;  // of the settings; empty: there is none
  double reservoir_l = 0;
  Millis min_gap{};  // of the table: from flood to flood
  settings::Turnover settings{};
  std::string grow;  // that is under way; empty: none
  std::function<std::int64_t()> now_unix_ms;
  std::function<std::string(std::int64_t unix_ms)> clock;  // as text
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
  std::string_view unit;                  // of its figure; empty: it has none
  std::optional<journal::DiaryRow> told;  // marked done or skipped; none: not yet
};
// The steps as they stand, in their order.
std::vector<TurnoverStep> turnover_steps(const TurnoverRecord& record);

// Goes on from the first step that nothing was told of. A Failure where it cannot go on; what was
// told until then stays.
void turn_over(Questions& questions, const AskDaemon& ask, const TurnoverTent& tent,
               const TurnoverRecord& record);

}  // namespace neap::client
