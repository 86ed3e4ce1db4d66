// Enums and arguments made into text: the one place where reasons, alarms, faults and levels get
// their English. Used by the client and for the daemon's log lines; the core makes no text.
#pragma once

#include <string>
#include <string_view>

#include "daemon/core/alarm.h"
#include "daemon/core/event.h"
#include "daemon/core/image.h"
#include "daemon/core/plan.h"
#include "daemon/core/reason.h"

namespace neap::words {

struct Style {
  bool metric = true;  // US: F and gal
};

// "VPD 0.72 kPa under the band 0.80 to 1.20". Lower case, no full stop.
std::string sentence(const Because& because, const Style& style = {});
// What to do when a request was refused for it; empty when the sentence says that already.
std::string remedy(const Because& because);
std::string_view name(Quality q);
std::string_view name(Fault f);  // "no answer", "too old"
// What a person looks at when a device says so; empty where only the device's place tells.
std::string_view cure(Fault f);
std::string_view name(FloodPhase p);    // "fill"
std::string_view name(FloodOutcome o);  // "complete", "interrupted"
std::string_view name(FloodOrigin o);   // "schedule", "catch-up", "operator", "retry", "by time"
std::string_view name(AlarmState s);    // "unacknowledged"
std::string_view name(Priority p);
std::string_view name(Precedence p);
std::string_view name(EventKind k);
std::string_view name(Contact c);
std::string_view name(TimeQuality q);
std::string_view name(LawChoice law);              // as the settings write it
std::string level(Output output, Permille level);  // "running", "stopped", "45 %"
std::string duration(Millis d);                    // "2 h 05 min", "3 min 20 s", "45 s"
std::string value(Point point, double v, const Style& style = {});  // "24.3 C", "1.02 kPa", "wet"
// One line of `neap events`. `about`: the event's name in the journal, where it has one.
std::string sentence(const Event& event, const Style& style = {}, std::string_view about = {});
std::string local_time(std::int64_t unix_ms, std::int32_t utc_offset_s);  // "2026-06-01 06:00:05"
std::string clock_time(std::int32_t second_of_day);                       // "06:00"
std::string civil_date(std::int32_t days_since_1970);                     // "2026-06-01"
// Control and escape characters of a foreign string made harmless for a terminal.
std::string printable(std::string_view text);

}  // namespace neap::words
