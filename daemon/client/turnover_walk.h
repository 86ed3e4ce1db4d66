// The walk of `neap turnover`, for the files that have its steps (turnover.cpp) and its floods
// (turnover_floods.cpp).
#pragma once

#include <algorithm>
#include <string>
#include <vector>

#include "daemon/client/turnover.h"

namespace neap::client {

// Between two floods of the disinfection the tray dries, and dry chlorine does nothing (common
// practice, no source). Where table.min_gap lets no flood come in time, a sponge keeps it wet.
constexpr Millis kWetFor = minutes{30};
constexpr Millis kLateBy = minutes{15};  // a person, after min_gap

class TurnoverWalk {
 public:
  TurnoverWalk(Questions& questions, const AskDaemon& ask, const TurnoverTent& tent,
               const TurnoverRecord& record)
      : questions_(questions), ask_(ask), tent_(tent), record_(record) {}
  const TurnoverRecord& record() const { return record_; }

  void begin();
  void end();

  // The steps, in their order; kSteps below.
  void archive();
  void empty();
  void disinfect();
  void rinse();
  void probes();
  void proofs();
  void baselines();

 private:
  nlohmann::json status() const { return ask_("status", nlohmann::json::object()); }
  void be_fallow(const nlohmann::json& seen) const;
  void note(std::string_view step, std::string_view mark, const std::string& says,
            std::optional<double> figure = {});
  void skip(std::string_view step, const std::string& what);
  void resume();
  void ask_whether_over();
  void measure_out();
  void renew_dose();
  std::vector<FloodSpan> bleach_floods() const;
  void leave_disinfection();
  bool flood(std::string_view row, std::string_view what);
  bool start_flood();
  bool watch_flood();
  void stop_flood();
  std::vector<FloodSpan> floods_of(std::string_view row, std::int64_t since_unix_ms) const;
  Millis longest_pause() const { return std::max(kWetFor, tent_.min_gap + kLateBy); }
  Millis wet_for(const std::vector<FloodSpan>& floods) const;

  Questions& questions_;
  const AskDaemon& ask_;
  const TurnoverTent& tent_;
  TurnoverRecord record_;
};

}  // namespace neap::client
