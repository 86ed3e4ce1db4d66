// What the flood cycle can prove from its readings, and the limits it holds a phase to. Pure
// questions; daemon/core/flood.cpp asks them and acts.
#pragma once

#include <optional>

#include "daemon/core/flood.h"
#include "daemon/core/instant.h"
#include "daemon/core/plan.h"

namespace neap::proof {

// Two level readings this close, in litres, tell nothing apart (common practice, no source).
constexpr double kLevelNoiseL = 0.3;
// A reading younger than this after the pump's start says nothing: hose and pump still prime.
constexpr Millis kPrimeTime = seconds{10};
// At the fill limit: a reservoir that gave more than this part of a flood filled something, and it
// was not the tray.
constexpr double kLostPart = 0.6;
// At any time: what no tray can hold is not in the tray. More than it holds to its rim, with a
// margin for the hose; or half as much again as a flood, because what is over the standpipe comes
// back. Dry medium in its first flood and a roughly measured volume stay below that (common
// practice, no source).
constexpr double kMoreThanTheTray = 1.1;
constexpr double kMoreThanAFlood = 1.5;
// Without a float at the tray's lowest point it counts as drained when this part of the water is
// back. Not all of it comes back: the medium keeps what the plants drank since the last flood.
constexpr double kDrainedPart = 0.7;
// A fill that failed is tried again only when at least this part of its water came back.
constexpr double kRetryPart = 0.5;
// A small fill by litres may always take this much longer than the learnt time: priming the hose
// and the age of a level reading do not shrink with it.
constexpr Millis kFillGrace = seconds{30};
// Proven fills before the learnt time is used.
constexpr int kEnoughFills = 3;

// How far the reservoir has fallen since the start, in litres; negative when it rose.
std::optional<double> fallen(const FloodState& state, const FloodInputs& in);
// How far it has risen from its lowest.
std::optional<double> risen(const FloodState& state, const FloodInputs& in);
// At least `part` of what left the reservoir is back, by a reading taken after the drain began.
bool came_back(const FloodState& state, const FloodInputs& in, double part);

// Time this fill should take by what was learnt: a share of the whole fill when depth is by litres.
std::optional<Millis> learnt_fill(const TablePlan& table, const FloodLearnt& learnt,
                                  const FloodInputs& in);
// The same, by the pump's rating while too little is learnt. Only for depth by litres.
Millis timed_fill(const TablePlan& table, const FloodLearnt& learnt, const FloodInputs& in);
// Slower than this is an alarm (limits::kFillAlarmRatio).
std::optional<Millis> slow_fill(const TablePlan& table, const FloodLearnt& learnt,
                                const FloodInputs& in);
// Hard stop of the fill: the table's limit, or limits::kFillStopRatio times the learnt time.
Millis fill_limit(const TablePlan& table, const FloodLearnt& learnt, const FloodInputs& in);
// Zero when this depth cannot be held on this drain path.
Millis soak_time(const TablePlan& table, const FloodInputs& in);
bool pump_holds_soak(const TablePlan& table);

enum class Effect { undecided, moved, nothing };
// Did the pump move water? Undecided while no reading can tell.
Effect pump_effect(const TablePlan& table, const FloodState& state, const FloodInputs& in,
                   Instant now);
bool more_than_the_tray(const TablePlan& table, const FloodState& state, const FloodInputs& in);

enum class Drained { no, by_time, seen };
// Is the tray empty? By the lowest float, else by the reservoir's rise, else by time: two thirds of
// the drain limit, or the whole of it after a restart, when nobody knows how full the tray was.
Drained drained(const TablePlan& table, const FloodState& state, const FloodInputs& in,
                Instant now);
// Drain time that counts as proof when no sensor can give one.
Millis timed_drain(const TablePlan& table, const FloodState& state);
// A float in the tray sees water, or cannot be read.
bool tray_may_hold_water(const FloodInputs& in);

}  // namespace neap::proof
