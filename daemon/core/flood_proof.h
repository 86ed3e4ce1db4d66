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
// Under a full tray the reservoir stands, because the standpipe gives back what the pump gives;
// what it goes on falling stands over the float, and between float and rim there is the tray's
// capacity without a flood. Where those figures leave next to nothing, at least this part of a
// flood, for what the medium still takes (choice).
constexpr double kLeastRoom = 0.5;
// A level is followed by the pump's rating no longer than this: rating and pump differ (choice).
constexpr Millis kLongestGuess = seconds{60};
// Without a float at the tray's lowest point it counts as drained when this part of the water is
// back. Not all of it comes back: the medium keeps what the plants drank since the last flood.
constexpr double kDrainedPart = 0.7;
// A reservoir that has given this part of a flood and then stood still this long while the pump ran
// gets back over the standpipe what it gives: the tray is full (common practice, no source).
constexpr double kFullPart = 0.8;
constexpr Millis kStandstill = seconds{60};
// A pump that moved less than this part of its rating all through a fill is weak. Between a new
// pump and its nameplate, and a litre counter's and a scale's errors, lie 30 % (common practice, no
// source).
constexpr double kWeakPart = 0.6;
// A fill that failed is tried again only when at least this part of its water came back.
constexpr double kRetryPart = 0.5;
// A small fill by litres may always take this much longer than the learnt time: priming the hose
// and the age of a level reading do not shrink with it.
constexpr Millis kFillGrace = seconds{30};
// Proven fills before the learnt time is used.
constexpr int kEnoughFills = 3;

// How far the reservoir has fallen since the start, in litres; negative when it rose.
std::optional<double> fallen(const FloodState& state, const FloodInputs& in);
// The level by now, in litres, of a reservoir out of which the pump has taken what it is rated for
// since the reading, or since the fill began where that was later.
std::optional<double> level_now(const TablePlan& table, const FloodState& state,
                                const FloodInputs& in, Instant now);
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
// A fill past a blind sensor: this part of the learnt time, so that a tray whose float cannot say
// so stays short of its standpipe (common practice, no source).
constexpr double kShortenedPart = 0.8;
Millis shortened_fill(const FloodLearnt& learnt);
// Hard stop of the fill: the table's limit, or limits::kFillStopRatio times the learnt time.
Millis fill_limit(const TablePlan& table, const FloodLearnt& learnt, const FloodInputs& in);
// Zero when this depth cannot be held on this drain path.
Millis soak_time(const TablePlan& table, const FloodInputs& in);
bool pump_holds_soak(const TablePlan& table);

// A run of the pump: when it began, and what the reservoir held then.
struct Run {
  Instant began{};
  std::optional<double> level_l;
};
enum class Effect { undecided, moved, nothing };
// Did the pump move water? Undecided while no reading can tell.
Effect pump_effect(const TablePlan& table, const Run& run, const FloodInputs& in, Instant now);
// A fill used up its time and the reservoir gave `fell` litres. Where did they go? As far as the
// readings can tell: a level that fell and then stood still under a running pump is a tray that
// runs over its standpipe (flood_float_silent), one that fell slowly all the time is a weak pump
// (flood_pump_weak). Anything else is water on its way to the floor (flood_lost_water).
Because whereabouts(const TablePlan& table, const FloodState& state, const FloodInputs& in,
                    double fell, Instant now);
// What tray.full says, set in mid-fill, against what the reservoir gave, or against half of the
// learnt time where no level can be read.
enum class Full { credible, against_the_level, against_the_time };
Full full_by_float(const TablePlan& table, const FloodState& state, const FloodLearnt& learnt,
                   const FloodInputs& in, Instant now);
// The tray is full when its float has said so for this long: water sloshes at 0.2 to 1 Hz, so that
// a splash is over in 2.5 s. One that contradicts the level must say so for a whole wave.
constexpr Millis kFullFor = seconds{3};
constexpr Millis kEarlyFor = seconds{5};
// How long the float has said full.
Millis full_for(const FloodInputs& in, Instant now);
bool more_than_the_tray(const TablePlan& table, const FloodState& state, const FloodInputs& in,
                        Instant now);
// When the room between float and rim is used up, by what the level says and the pump's rating;
// none while the reservoir stands, or without a level.
std::optional<Instant> room_used_at(const TablePlan& table, const FloodState& state,
                                    const FloodInputs& in);

enum class Drained { no, by_time, seen };
// Is the tray empty? By the lowest float, else by the reservoir's rise, else by time: two thirds of
// the drain limit, or the whole of it when nobody knows how full the tray was (after a restart) or
// the level was lost on the way. A level that said late in the drain that the water was not back,
// and was lost then, is evidence: not drained.
Drained drained(const TablePlan& table, const FloodState& state, const FloodInputs& in,
                Instant now);
// Drain time that counts as proof when no sensor can give one.
Millis timed_drain(const TablePlan& table, const FloodState& state);
// A float in the tray sees water, or cannot be read.
bool tray_may_hold_water(const FloodInputs& in);

}  // namespace neap::proof
