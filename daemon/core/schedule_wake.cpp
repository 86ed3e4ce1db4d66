// When the programme next changes something.
#include <algorithm>
#include <limits>

#include "daemon/core/demand_clock.h"
#include "daemon/core/schedule.h"

namespace neap {
namespace {

// The earliest of civil times that are still to come, as seconds from `now`.
class Earliest {
 public:
  explicit Earliest(CivilTime now) : now_(now) {}
  void consider(CivilTime t) {
    const std::int64_t s = civil_seconds_between(now_, t);
    if (s > 0) seconds_ = std::min(seconds_, s);
  }
  void consider_daily(std::int32_t second_of_day) {
    consider({now_.date, second_of_day});
    consider({now_.date + 1, second_of_day});
  }
  bool any() const { return seconds_ != kNever; }
  std::int64_t seconds() const { return seconds_; }

 private:
  static constexpr std::int64_t kNever = std::numeric_limits<std::int64_t>::max();
  CivilTime now_;
  std::int64_t seconds_ = kNever;
};

}  // namespace

Instant next_schedule_deadline(const Plan& plan, const State& state, const WallTime& wall,
                               Instant now) {
  if (!time_is_known(wall)) return Instant::max();
  Earliest earliest{state.civil};
  const StagePlan& stage = stage_in_force(plan, state);
  const LightEdges edges = photoperiod_at(stage, state.civil);
  earliest.consider(edges.on);
  earliest.consider(edges.off);
  earliest.consider({edges.on.date + 1, edges.on.second_of_day});
  earliest.consider_daily(0);
  if (plan.programme.quiet.fitted) {
    earliest.consider_daily(plan.programme.quiet.from_s);
    earliest.consider_daily(plan.programme.quiet.to_s);
  }
  if (stage.light_ramp_s > 0) {  // the light steps by the minute while it ramps, see scan.cpp
    const std::int32_t second = state.civil.second_of_day;
    earliest.consider({state.civil.date, second - second % 60 + 60});
  }
  for (const FloodSlot& slot : state.slot_table.slots) {
    earliest.consider(slot.start);
    const std::int32_t over = slot.start.second_of_day + plan.programme.slot_grace_s + 1;
    earliest.consider({slot.start.date + over / kSecondsPerDay, over % kSecondsPerDay});
  }
  if (const DemandClock& demand = state.kept.demand; demand.slot_open)
    earliest.consider(later(demand.slot.start, plan.programme.slot_grace_s + 1));
  if (!earliest.any()) return Instant::max();
  const std::int64_t into_second = ((wall.unix_ms % 1000) + 1000) % 1000;
  return std::min(now + Millis{earliest.seconds() * 1000 - into_second},
                  next_demand_deadline(plan, state));
}

}  // namespace neap
