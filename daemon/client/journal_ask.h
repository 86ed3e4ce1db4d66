// What verbs that read the journal ask it first.
#pragma once

#include <cstdint>
#include <functional>
#include <string>

#include "daemon/client/session.h"

namespace neap::client {

// The plan of the newest settings that the journal knows: names, units and bands.
Plan plan_in_force(const Session& session, journal::Reader& reader);
// All of those settings.
settings::Loaded settings_in_force(const Session& session, journal::Reader& reader);

// The units in which people are shown what the journal has.
words::Style style_in_force(journal::Reader& reader);

// A Failure when the journal is empty.
std::int64_t last_tick(journal::Reader& reader);
// Civil time in the journal's own time zone as a tick.
std::int64_t tick_of(journal::Reader& reader, CivilTime civil);
// `2h` counts back from the newest entry, so that a journal of last year or of a simulated grow can
// be asked too; so do `today`, `yesterday`, `yesterday 19:10`, `07:30` and `lights-on`, the last
// one; or a date or time. `option` is what the person wrote it after.
std::int64_t moment_tick(journal::Reader& reader, const std::string& option,
                         const std::string& text);

// What --since and --until ask for. Without --since from `fallback` before the end, which is a
// length of time; all there is when that is empty. Without --until the end stays open.
journal::Span span_of(const Session& session, journal::Reader& reader, const char* fallback);
// The same, kept within what the journal has; a Failure when it has nothing of it.
struct Asked {
  std::int64_t from = 0;
  std::int64_t to = 0;  // after `from`
};
Asked asked_within(journal::Reader& reader, const journal::Span& span);

// neapd answers before its journal has written down what it was told: it gathers for a moment.
// Looks until the journal shows it, for 3 s at most; what it shows is on the disk. `unread` where
// this user cannot read it.
enum class Stored : unsigned char { yes, not_yet, unread };
Stored once_stored(const Session& session, const std::function<bool(journal::Reader&)>& shown);

// On the error stream, when the last answers are incomplete.
void warn_of_trouble(const Session& session, const journal::Reader& reader);

}  // namespace neap::client
