// The programme: which stage, day or night, the set-points now, and the slots of the flood
// schedule. Pure functions of the plan, the stage in force and civil time, so that `neap plan` and
// the scan cannot disagree.
//
// A photoperiod is named by the civil date of its lights-on. A slot's identity is (that date,
// number): it starts at most once, whatever the clock does.
#pragma once

#include <cstdint>
#include <optional>

#include "daemon/core/fixed.h"
#include "daemon/core/instant.h"
#include "daemon/core/plan.h"

namespace neap {

struct SlotId {
  std::int32_t date = 0;    // civil date of the photoperiod's lights-on
  std::int32_t number = 0;  // 1.. in order of the time asked; 0 = no slot
  friend constexpr bool operator==(const SlotId&, const SlotId&) = default;
  friend constexpr auto operator<=>(const SlotId&, const SlotId&) = default;
};

struct FloodSlot {
  SlotId id;
  CivilTime start;  // after quiet hours moved it
  CivilTime asked;  // as the schedule says
  bool moved() const { return !(start == asked); }
};
using FloodSlots = FixedVector<FloodSlot, kMaxSlotsPerDay>;

struct LightEdges {
  CivilTime on;
  CivilTime off;
};

// A flood moved before quiet hours begins this long before them, so that it has drained by then.
constexpr std::int32_t kBeforeQuiet = 1800;

CivilTime later(CivilTime from, std::int64_t by_s);

// The photoperiod that contains `now`, or the last one that began before it.
LightEdges photoperiod_at(const StagePlan& stage, CivilTime now);
bool is_light(const StagePlan& stage, CivilTime now);
// Light demanded now, ramps included. For dimmable lights: a two-position light follows is_light().
Permille light_level_at(const StagePlan& stage, CivilTime now);
// The VPD band now: day or night, moving linearly over band_ramp_s after each light edge.
Band band_at(const StagePlan& stage, CivilTime now);
bool in_quiet_hours(const QuietHours& quiet, std::int32_t second_of_day);

// All slots of the photoperiod whose lights-on is on `date`, in order of start. A slot that falls
// into quiet hours moves to their end if that is in the light, else to 30 min before them if that
// is. With neither in the light it moves to their end, or before them where the end lies in the
// next photoperiod. Two slots that would then start together are one, under the first number:
// numbers count the times asked for, so a change of quiet hours renames no slot. Without light
// (fallow apart) only at_times gives slots; fallow gives none. By demand they are a forecast
// (demand.h): what really comes depends on the air.
void slots_of(const ProgrammePlan& programme, const StagePlan& stage, std::int32_t date,
              FloodSlots& out);

// The first slot that starts at or after `now` (looks three days ahead).
std::optional<FloodSlot> next_slot(const ProgrammePlan& programme, const StagePlan& stage,
                                   CivilTime now);

// Which stage the days alone suggest on `date` when stage `entered` began on `entered_date`.
struct StageAdvice {
  int day = 1;       // 1.. in the stage in force
  bool due = false;  // its days are over and another follows
};
StageAdvice advise_stage(const ProgrammePlan& programme, int stage_index, std::int32_t entered_date,
                         std::int32_t date);

}  // namespace neap
