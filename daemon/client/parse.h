// What a person types as an argument, made into values. Every function throws a Failure of kind
// usage that names the place, what was written, the rule and the remedy.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/core/alarm.h"
#include "daemon/core/event.h"
#include "daemon/core/instant.h"
#include "daemon/core/interlock.h"
#include "daemon/core/outputs.h"
#include "daemon/core/points.h"

namespace neap::client {

// The candidate nearest to `text` when it is near enough to be a slip of the fingers; else empty.
std::string nearest(std::string_view text, const std::vector<std::string_view>& candidates);
// "did you mean "x"?" when something is near, else "use one of: ...".
std::string suggestion(std::string_view text, const std::vector<std::string_view>& candidates);

// "90s", "10m", "10 min", "2h", "1h30m", "3d"; none when it is no length of time.
std::optional<Millis> read_duration(std::string_view text);
// The same, from `lowest` to `highest`.
Millis parse_duration(std::string_view place, std::string_view text, Millis lowest, Millis highest);
// "for 10m" at the end of `words` is taken off and parsed; none when there is no `for`.
std::optional<Millis> take_for(std::vector<std::string>& words, Millis lowest, Millis highest);

// "stopped", "running", "open", "closed" as the output has them, or "45%".
Permille parse_level(Output output, std::string_view text);
Output parse_output(std::string_view text);  // also `fan` for the exhaust fan, `-` for `_`
Alarm parse_alarm(std::string_view text);
Latch parse_latch(std::string_view text);
Point parse_point(std::string_view text);
std::vector<std::string> kind_words();        // what parse_kind takes
EventKind parse_kind(std::string_view text);  // as `neap events` prints it, `_` for a space

// A whole number; `example` is what the remedy shows, such as "--days 7".
int parse_whole(std::string_view place, std::string_view text, int lowest, int highest,
                std::string_view example);
double parse_number(std::string_view place, std::string_view text, double lowest, double highest);

// "HH:MM" or "HH:MM:SS" as a second of the day.
std::optional<std::int32_t> read_clock(std::string_view text);
// "2026-06-01", "2026-06-01T14:30", "2026-06-01 14:30:10"; a date alone is its midnight.
struct DateTime {
  CivilTime civil;
  bool has_time = false;
};
std::optional<DateTime> read_date_time(std::string_view text);
DateTime parse_date_time(std::string_view place, std::string_view text);

}  // namespace neap::client
