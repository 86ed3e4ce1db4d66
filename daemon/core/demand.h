// Floods by demand: a flood comes when VPD over time since the last one has come to an amount, and
// never sooner nor later after it than the programme says. VPD over time is a published proxy for
// what a crop transpires; how much one flood stands for is common practice, no source: the grower
// sets it. Hours of the dark count less (kDarkPart).
//
// Pure functions of the programme and of a clock that goes by tick, so that no step of the wall
// clock brings a flood twice, and so that the forecast of `neap plan` and the scan cannot disagree.
// The wall clock says in which hours floods may begin, as it does for every other slot.
#pragma once

#include <cstdint>
#include <optional>

#include "daemon/core/programme.h"

namespace neap {

// Thousandths. In the dark: 0.28 L of 2.35 L transpired in 16 h of light, with 0.34 L a day from
// the medium at all hours, come to 0.30 of the rate in the light (a lettuce model of a small tent,
// our own run).
constexpr int kDarkPart = 300;

// What is kept of it. `used` is since a flood filled the tray; `since` is since a flood began, or a
// slot was used up without one, so that what failed is not tried without end.
struct DemandClock {
  bool running = false;
  std::int64_t since_tick = 0;
  std::int64_t away_ms = 0;       // an outage since then: the tick stood still, the roots did not
  std::int64_t counted_tick = 0;  // `used` is true for this tick
  std::int64_t used = 0;          // Pa ms: VPD over time, in the dark a part of it
  std::int32_t rate = 0;          // Pa, from then on
  bool slot_open = false;         // the flood is due and has not begun
  FloodSlot slot;
};

// The clock as it stands at a civil time.
struct DemandNow {
  CivilTime at;
  Millis since{};                      // a flood, by tick
  Millis away{};                       // besides
  std::int64_t used = 0;               // Pa ms
  std::optional<std::int64_t> rate{};  // Pa, until the next light edge; none: the air is not known
};

// From `at` on, to where floods may begin. `expected` is at or before it when the flood is due:
// with the amount used up, else at `latest`. That is `no_later` after the last flood; where no
// flood may begin then, the last minute in which one could, unless that is sooner than `no_sooner`,
// or the first. The air is taken to stay as it is until the next light edge, then in mid-band;
// without a reading nothing is expected before `latest`.
struct DemandTimes {
  Millis expected{};
  Millis latest{};
};
// None where no flood may begin within three days.
std::optional<DemandTimes> demand_times(const ProgrammePlan& programme, const StagePlan& stage,
                                        const DemandNow& now);

// The floods of the photoperiod of `date` in air of mid-band, after one as late as can be the day
// before.
void forecast_by_demand(const ProgrammePlan& programme, const StagePlan& stage, std::int32_t date,
                        FloodSlots& out);
// The same with the longest gaps that may come; the first of a photoperiod is its earliest.
void sparsest_by_demand(const ProgrammePlan& programme, const StagePlan& stage, std::int32_t date,
                        FloodSlots& out);

}  // namespace neap
