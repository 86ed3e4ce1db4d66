// Time as the core knows it. The core never asks for the time: every function that needs it is
// given it, so the same code runs live, in a simulated grow and in a test that starts mid-flood.
#pragma once

#include <chrono>
#include <cstdint>

namespace neap {

using Millis = std::chrono::duration<std::int64_t, std::milli>;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

// The clock of all safety decisions: it only moves forward, and its count is carried across boots
// (a millisecond tick, kept in the state file). It has no now() on purpose: calling it is a
// compile error. (A strict C++20 Clock would need one; nothing here asks for is_clock.)
struct TickClock {
  using duration = Millis;
  using rep = duration::rep;
  using period = duration::period;
  using time_point = std::chrono::time_point<TickClock, Millis>;
  static constexpr bool is_steady = true;
};
using Instant = TickClock::time_point;

constexpr Instant instant(Millis since_first_boot) { return Instant{since_first_boot}; }
constexpr std::int64_t tick_ms(Instant t) { return t.time_since_epoch().count(); }

// The next whole second at or after `t`. Deadlines are put on this grid so that scanning every
// second and scanning only when something is due decide at the same instants.
constexpr Instant next_whole_second(Instant t) {
  const std::int64_t ms = tick_ms(t);
  const std::int64_t up = ms >= 0 ? (ms + 999) / 1000 * 1000 : ms / 1000 * 1000;
  return instant(Millis{up});
}

// How far the wall clock can be believed. Schedules run on `restored` and `synced`.
enum class TimeQuality : std::uint8_t {
  unset = 0,     // no idea: the schedule waits
  restored = 1,  // carried over from before a restart, may be late
  synced = 2,    // disciplined by a time source
};

// Wall time as the shell read it beside the tick. Only the programme looks at it.
struct WallTime {
  std::int64_t unix_ms = 0;       // UTC
  std::int32_t utc_offset_s = 0;  // local minus UTC at this moment, DST included; -64800..64800
  TimeQuality quality = TimeQuality::unset;
};

// Local civil time: whole days since 1970-01-01 and seconds into that day, 0..86399.
struct CivilTime {
  std::int32_t date = 0;
  std::int32_t second_of_day = 0;
  friend constexpr bool operator==(const CivilTime&, const CivilTime&) = default;
  friend constexpr auto operator<=>(const CivilTime&, const CivilTime&) = default;
};

constexpr std::int32_t kSecondsPerDay = 86400;

constexpr CivilTime civil_of(const WallTime& wall) {
  const std::int64_t local_s =
      (wall.unix_ms >= 0 ? wall.unix_ms / 1000 : -((-wall.unix_ms + 999) / 1000)) +
      wall.utc_offset_s;
  std::int64_t date = local_s / kSecondsPerDay;
  std::int64_t second = local_s % kSecondsPerDay;
  if (second < 0) {
    second += kSecondsPerDay;
    --date;
  }
  return {static_cast<std::int32_t>(date), static_cast<std::int32_t>(second)};
}

// Seconds from `from` to `to` on the local civil scale; negative when `to` is earlier.
constexpr std::int64_t civil_seconds_between(const CivilTime& from, const CivilTime& to) {
  return (static_cast<std::int64_t>(to.date) - from.date) * kSecondsPerDay +
         (to.second_of_day - from.second_of_day);
}

}  // namespace neap
