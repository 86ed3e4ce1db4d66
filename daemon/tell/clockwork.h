// What comes by the clock: the line of the day, heartbeats, and that neapd has fallen silent.
#pragma once

#include <cstdint>
#include <optional>

#include "daemon/core/instant.h"
#include "daemon/tell/message.h"

namespace neap::tell {

// Whether the line of `civil`'s day is due. `told` is the date of the last one; one that lies more
// than a day ahead comes from a clock that was wrong and is not believed.
bool daily_due(std::optional<std::int32_t> told, CivilTime civil, std::int32_t at_s);

// True once a period, first at once.
class Beat {
 public:
  bool due(Millis every, Now now);

 private:
  std::optional<std::int64_t> next_ms_;  // steady
};

// Readings come to the journal a minute at a time, so five without any is silence. A choice.
constexpr std::int64_t kSilentAfterMs = 5 * 60'000;

// Watches the journal's newest tick. No tick: there is no journal, or none that can be read.
class Pulse {
 public:
  enum class Change { none, fell_silent, came_back };
  Change look(std::optional<std::int64_t> newest_tick, Now now);
  bool silent() const { return silent_; }
  // It was seen to write since this was made, and has not fallen silent: one that died with what
  // watches it must not be taken for alive.
  bool writes() const { return seen_moving_ && !silent_; }

 private:
  std::optional<std::int64_t> tick_;
  std::optional<std::int64_t> moved_ms_;  // steady
  bool silent_ = false;
  bool seen_moving_ = false;
};

}  // namespace neap::tell
