// One thing to be told. Pure values: nothing in daemon/tell but the journal's rows comes from
// outside, and time is an argument.
#pragma once

#include <cstdint>
#include <string>

#include "daemon/core/alarm.h"

namespace neap::tell {

enum class Kind : std::uint8_t {
  alarm,     // raised
  reminder,  // still stands, and nobody has acknowledged it
  cleared,   // an alarm that was told of is over
  silence,   // neapd does not write
  back,      // it does again: what was missed meanwhile
  trouble,   // of the telling itself
  daily,
  proof,  // that the way works; needs reach nobody
  heartbeat,
};
constexpr std::size_t kKindCount = 9;
std::string_view name(Kind kind);

// Two clocks. `steady_ms` only moves forward and may begin anywhere: every wait goes by it, so that
// a wall clock that is set back or years ahead holds nothing up and lets nothing expire. `unix_ms`
// is for texts, quiet hours and the time of the day.
struct Now {
  std::int64_t unix_ms = 0;
  std::int64_t steady_ms = 0;
};

struct Message {
  Kind kind = Kind::alarm;
  Priority priority = Priority::low;
  bool wakes = false;           // told in quiet hours too
  std::int64_t at_unix_ms = 0;  // when it happened; 0: not known
  std::string subject;          // the alarm's name; else empty
  std::string text;             // one line, with its deadline where there is one
  std::string remedy;           // what to do; may be empty
};

}  // namespace neap::tell
