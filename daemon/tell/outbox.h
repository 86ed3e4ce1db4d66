// What waits for each hook, and when it is tried: quiet hours, a start limit, ever longer pauses
// after failures, expiry. All that waits and may be told goes out together, the most urgent first,
// so that a burst of alarms is one mail. Nothing is dropped in silence: what expires is counted and
// told with the next message that gets through.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "daemon/settings/telling.h"
#include "daemon/tell/message.h"

namespace neap::tell {

// Choices, for which there is no source: two starts of a hook are at least `kApart` from each
// other; in one message at most `kTogether` are told in full; more than `kMostWaiting` are counted.
constexpr std::int64_t kApartMs = 10'000;
constexpr std::size_t kTogether = 10;
constexpr std::size_t kMostWaiting = 100;
constexpr std::int64_t kFirstPauseMs = 30'000;
constexpr std::int64_t kLongestPauseMs = 30 * 60'000;
// Something that wakes people waits for no longer pause than this, and not for the hour's limit.
constexpr std::int64_t kUrgentPauseMs = 60'000;

struct Waiting {
  Message message;
  std::optional<std::int64_t> tried_from_ms;  // steady: the first start that had it
};

struct Failed {
  std::int64_t since_unix_ms = 0;  // the first of the failures in a row
  std::string why;                 // the latest
  int times = 0;
};

struct Mailbox {  // of one hook
  std::string hook;
  std::vector<Waiting> waiting;            // oldest first
  std::vector<std::int64_t> starts_ms;     // of the last hour, steady, oldest first
  std::optional<std::int64_t> not_before;  // steady: the pause after a failure
  std::optional<Failed> failed;            // none: the last delivery worked, or there was none
  std::optional<std::int64_t> delivered_unix_ms;
  int lost = 0;  // expired or crowded out, and not told of yet
};

struct Delivery {
  std::vector<Message> items;   // the most urgent first; at most kTogether
  std::size_t more = 0;         // further ones that go with them
  int lost = 0;                 // expired before they could be told
  std::vector<std::size_t> of;  // places in `waiting`, rising
};

// Puts it in when this hook is to be told of it. An alarm that is over before it was told becomes
// one line with its end; a reminder of what waits untold, and a second proof, add nothing.
void put(Mailbox& box, const settings::Hook& hook, const Message& message, Now now);
// Drops what was tried for too long, and counts it. What only waited, as for the morning, stays.
void expire(Mailbox& box, const settings::Hook& hook, Now now);
// What is to be told now; none when nothing may be.
std::optional<Delivery> due(const Mailbox& box, const settings::Hook& hook, bool quiet, Now now);
// Before the hook is started: a start counts, whatever comes of it.
void started(Mailbox& box, const Delivery& delivery, Now now);
void delivered(Mailbox& box, const Delivery& delivery, Now now);
// A heartbeat is not tried again: the next one says more.
void failed(Mailbox& box, const std::string& why, Now now);
}  // namespace neap::tell
