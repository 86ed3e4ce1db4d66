// What the programme will do: computed from the settings with the core's own functions, so that
// `neap plan` and the daemon cannot disagree. Needs no daemon.
#pragma once

#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "daemon/client/look.h"
#include "daemon/core/plan.h"
#include "daemon/core/programme.h"
#include "daemon/journal/reader.h"

namespace neap::client {

struct StageNow {
  int index = 0;
  std::int32_t entered_date = 0;
  bool confirmed = false;  // as the journal has it; false: by the days since the programme began
};

// As the daemon chooses at its first start.
StageNow stage_by_days(const ProgrammePlan& programme, std::int32_t date);
// The stage entered last before `until_tick` (none: the end); by days when the journal knows none.
StageNow stage_in_journal(journal::Reader& reader, const ProgrammePlan& programme,
                          std::int32_t date, std::optional<std::int64_t> until_tick = {});

struct AheadDay {
  std::int32_t date = 0;
  std::optional<std::int32_t> lights_on_s;   // second of this day
  std::optional<std::int32_t> lights_off_s;  // of the photoperiod that ends on this day
  std::vector<FloodSlot> floods;             // that start on this day
  std::optional<double> pump_s;              // expected, when the pump's flow is known
};
struct Ahead {
  CivilTime from;
  StageNow stage;
  std::optional<std::int32_t> stage_due;  // date from which its days are over
  std::vector<AheadDay> days;
};

// Whether the water is held at all: less than the standpipe's depth can only be held by a valve
// (daemon/core/flood.h), so without one such a flood drains as soon as it is full.
bool soaks(const Plan& plan, const FloodPlan& floods);

Ahead look_ahead(const Plan& plan, const StageNow& stage, CivilTime from, int days);

nlohmann::json ahead_json(const Plan& plan, const Ahead& ahead);
std::string render_ahead(const Plan& plan, const Ahead& ahead, const Look& look);
// "VPD 0.70 to 1.10 kPa by day, ..." of a stage.
std::string targets_text(const Plan& plan, const StagePlan& stage, const words::Style& style);

}  // namespace neap::client
