// Watching the inputs: raw samples to readings with quality, contacts to what the interlock kernel
// understands. The thresholds live here, so that the kernel has none.
#pragma once

#include <optional>

#include "daemon/core/interlock.h"
#include "daemon/core/plan.h"
#include "daemon/core/probe_calibration.h"
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
//
// `switched`: when a load was last switched. What fails or jumps right after it is passed over, as
// if it had not been read. Returns whether a new sample was an error, passed over or not.
bool watch_point(const PointInfo& info, const PointPlan& plan, PointWatch& watch,
                 const Sample& sample, std::optional<Instant> switched, Instant now,
                 const Correction& correction = {});

// From 0, safe, to kMostDangerous. The reservoir's float is safe while water lifts it.
constexpr int kMostDangerous = 3;
int danger(Point point, Contact c);

// When the reading's quality next changes by age alone; Instant::max() when it cannot.
Instant next_age_deadline(const PointPlan& plan, const PointWatch& watch, Instant now);

// When a contact's safe edge has lasted long enough; Instant::max() when none waits.
Instant next_contact_deadline(Point point, const PointWatch& watch);
// More than kEdgesAMinute changes in the last minute.
bool chatters(const ContactWatch& contact, Instant now);

// Loads were switched at `at`, or stand switched; errors came with that or not.
void note_switching(SwitchEcho& echo, Instant at);
void note_error(SwitchEcho& echo, Instant taken);
// Errors come with the switching of loads: in several switchings of late, and seldom besides.
bool errors_come_with_switching(const SwitchEcho& echo);

FloatSeen float_seen(const Plan& plan, const State& state, Point point);
// For the pump: whether a flood may have its water.
LevelSeen reservoir_seen(const Plan& plan, const State& state);
// For what hangs in the reservoir: whether it is under water now.
LevelSeen covered_seen(const Plan& plan, const State& state);

struct LeakView {
  LeakSeen worst = LeakSeen::unknown;  // unknown too when no probe is fitted
  bool confirmed = false;              // 2 of 3 samples within kLeakWindow, or two in a row
  Point where = Point::leak_floor;     // the probe that is worst
};
LeakView watch_leaks(const Plan& plan, State& state, const PerPoint<Sample>& samples);

}  // namespace neap
