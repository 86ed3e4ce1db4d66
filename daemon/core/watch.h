// Watching the inputs: raw samples to readings with quality, contacts to what the interlock kernel
// understands. The thresholds live here, so that the kernel has none.
#pragma once

#include <optional>

#include "daemon/core/interlock.h"
#include "daemon/core/plan.h"
#include "daemon/core/state.h"

namespace neap {

// A change beyond PointInfo::max_step within this time of the last good sample is a jump and is
// dropped; a step that lasts longer is believed.
constexpr Millis kStepWindow = seconds{60};

// Judges the newest sample of one point: calibration, range, jump, frozen value, age. Contacts are
// never held: a probe that gave no value has none.
//
// Where a point has a max_step, a value that moved more than limits::kAgreePart of it replaces the
// last good one only when limits::kAgreeingValues in a row agree; the first word after a start is
// taken at once, as uncertain, until as many agree. Values out of range, and jumps that the value
// before does not bear out, raise the doubt of the probe; from limits::kDoubtSuspends on its
// reading is absent (Fault::erratic) until good values have used the doubt up.
void watch_point(const PointInfo& info, const PointPlan& plan, PointWatch& watch,
                 const Sample& sample, Instant now);

// When the reading's quality next changes by age alone; Instant::max() when it cannot.
Instant next_age_deadline(const PointPlan& plan, const PointWatch& watch, Instant now);

FloatSeen float_seen(const Plan& plan, const State& state, Point point);
LevelSeen reservoir_seen(const Plan& plan, const State& state);

struct LeakView {
  LeakSeen worst = LeakSeen::unknown;  // unknown too when no probe is fitted
  bool confirmed = false;              // 2 of 3 samples within kLeakWindow, or two in a row
  Point where = Point::leak_floor;     // the probe that is worst
};
LeakView watch_leaks(const Plan& plan, State& state, const PerPoint<Sample>& samples);

}  // namespace neap
