// What the telling remembers over a restart, and shows to `neap tell` and `neap status`: one small
// JSON file that is written whole. Moments of the steady clock are kept as what was left of them,
// because that clock begins anew; the time in between counts for nothing.
#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <vector>

#include "daemon/tell/outbox.h"

namespace neap::tell {

struct Told {  // one start of a hook
  std::int64_t unix_ms = 0;
  std::string hook;
  std::string text;  // the first item's
  std::size_t items = 1;
  std::string why;  // it failed; empty: delivered
};
constexpr std::size_t kToldKept = 50;

struct Memory {
  std::int64_t looked_unix_ms = 0;
  std::int64_t event_number = 0;  // up to which the journal's events are told
  std::int64_t tick = 0;          // of the newest entry seen
  std::int64_t boot_tick = 0;     // of the newest start of neapd whose outage is told, or was none
  std::optional<std::int32_t> daily;  // date of the last line of a day
  std::string recap;                  // of the last outage
  std::string trouble;                // of settings or journal; empty: none
  std::vector<Mailbox> boxes;
  std::deque<Told> told;  // oldest first
};

std::string text_of(const Memory& memory, Now now);
// None when it is no such text: then the telling begins anew.
std::optional<Memory> read_memory(const std::string& text, Now now);

}  // namespace neap::tell
