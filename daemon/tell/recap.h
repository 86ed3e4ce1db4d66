// What an outage came to, and what a day came to, in a line each.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/journal/reader.h"
#include "daemon/words/words.h"

namespace neap::tell {

struct Outage {
  journal::Stamp from;                    // neapd's last entry before
  journal::Stamp to;                      // its start
  bool stopped = false;                   // properly, by a person or a shutdown
  int missed = 0;                         // slots that came due meanwhile
  std::vector<journal::Stamp> caught_up;  // starts of floods that were complete
};

// Shorter ones are restarts that nobody need hear of. A choice.
constexpr std::int64_t kShortestOutageMs = 2 * 60'000;

// Of the boot at `boot`, with the last entry before it; none when it is too short, or no clock
// tells its length. `events` and `cycles` are those since the boot.
std::optional<Outage> outage_of(const journal::BootRow& boot, const journal::Stamp& before,
                                const std::vector<journal::EventRow>& events,
                                const std::vector<journal::CycleEntry>& cycles);
// A flood that is still to be caught up.
bool settled(const Outage& outage);
// "out 02:10-05:40 (power or crash), one flood missed, caught up 06:00"
std::string text_of(const Outage& outage);

struct DayFacts {
  std::vector<journal::CycleEntry> cycles;  // begun in the last 24 h
  std::vector<SlotId> skipped;
  std::vector<journal::PointSummary> latest;  // of the last minutes
  std::vector<Alarm> standing;
};
// "5 of 5 floods proven, 19.0 L up, 18.6 L back, VPD dipped 0.09 kPa, back in 2 min, floor dry"
std::string daily_text(const DayFacts& facts, const words::Style& style);

}  // namespace neap::tell
