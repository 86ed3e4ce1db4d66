// What a person reads who wants more than one line about an alarm, a latch, a refusal, a trip or
// the fault of a reading: `neap explain` and the manual. The title and the remedy that screens show
// stand in daemon/core and remedy.cpp and are not said again here.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/words/words.h"

namespace neap::words {

struct Explanation {
  std::string_view meaning = {};  // sentences: how neap knows, and what it does meanwhile
  std::string_view causes = {};   // parted by "; ", the likeliest first
  std::string_view check = {};    // likewise, in the order to look; what the remedy does not say
};

const Explanation& explanation(Alarm alarm);
const Explanation& explanation(Latch latch);
const Explanation& explanation(Fault fault);  // of Fault::none an empty one
// None for a reason that is a state of affairs: nothing is wrong, and nobody is refused.
const Explanation* explanation(Reason reason);

// What is typed for a fault: "no_answer".
std::string_view key(Fault fault);
// The alarm that is raised with a latch.
Alarm alarm_of(Latch latch);

// The sentence of a reason, and what to do where it refuses, with "..." for each figure.
std::string pattern(Reason reason);
std::string remedy_pattern(Reason reason);  // empty: its sentence says it, or it refuses nothing
// Whether it is a reason for which a request is refused.
bool refuses(Reason reason);

// Its causes. Where they are written "see the alarm NAME" they are those of that alarm.
std::string_view causes(const Explanation& says);
// "a; b; c" in its parts.
std::vector<std::string_view> listed(std::string_view text);

// The rows behind explanation(Alarm), for the files that have them.
struct AlarmExplanation {
  Alarm alarm;
  Explanation says;
};
std::span<const AlarmExplanation> explained_water_alarms();
std::span<const AlarmExplanation> explained_air_alarms();

}  // namespace neap::words
