// The solution in the reservoir against the stage's targets: by a probe where one is fitted and
// speaks, else by the newest hand measurement. What falls due at the reservoir: a check, a
// calibration, a change of the solution, a stage.
#pragma once

#include <array>
#include <cstdint>
#include <optional>

#include "daemon/core/alarm.h"
#include "daemon/core/hand.h"

namespace neap {

struct Plan;
struct State;
struct StagePlan;

// pH, EC (mS/cm), level (L) and temperature (C), in the order of Hand.
struct Range {
  double low = 0;
  double high = 0;
  friend constexpr bool operator==(const Range&, const Range&) = default;
};
using SolutionTargets = std::array<std::optional<Range>, kWatchedHands>;

// What is kept of the solution's age.
struct SolutionAge {
  bool known = false;
  std::int64_t changed_unix_ms = 0;
  std::uint64_t change_id = 0;  // of the hand note that told it
  double replaced_l = 0;        // topped up since
  std::uint64_t topup_id = 0;   // of the newest
  // The first day of the stages with targets that follow each other, as CivilTime::date; 0: the
  // stage has none, or it was entered before this was kept.
  std::int32_t watched_from = 0;
};

// A hand measurement stands for the solution for so long; then nobody knows (common practice, no
// source).
constexpr Millis kHandLasts = hours{72};

struct SolutionSeen {
  double value = 0;
  bool by_hand = false;
};
// What is known of a watched quantity now; none when nobody knows.
std::optional<SolutionSeen> solution_seen(const Plan& plan, const State& state, Hand hand);

// How far out of a band: inside, outside, or so far outside that it cannot wait for the evening.
enum class Off : std::uint8_t { inside = 0, outside = 1, far = 2 };
// `was`: as it was judged before; a band is entered again only by a margin.
Off judge_band(Hand hand, const Range& band, double value, Off was);

// Takes in what a note says of the solution's age: a top-up, or a change.
void follow_solution_age(SolutionAge& age, const HandNote& note);

// The stage in force was entered on `date`.
void follow_solution_stage(SolutionAge& age, const StagePlan& stage, std::int32_t date);

// The conditions of all alarms that speak of the solution.
void solution_conditions(const Plan& plan, const State& state, Conditions& out);

}  // namespace neap
