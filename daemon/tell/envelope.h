// What a hook reads on its standard input: one line of JSON. config/telling.md lists the fields.
#pragma once

#include <optional>
#include <string>

#include "daemon/tell/outbox.h"

namespace neap::tell {

struct BeatFacts {
  bool ok = false;
  std::string verdict;
  std::string worst;  // the highest alarm that stands; empty: none
  std::string next;   // "flood 3 in 1 h 20 min"
  std::string recap;  // of the last outage; empty: none
  Millis every{};     // until the next heartbeat
};

struct Sender {
  std::string tent;
  std::string time_zone;
  std::int32_t utc_offset_s = 0;  // now
};

std::string envelope(const Sender& sender, const Delivery& delivery, const BeatFacts& beat,
                     Now now);
// "box-room: Water at a leak probe: leak probe on the floor is wet, and 2 more"
std::string subject_of(const Sender& sender, const Delivery& delivery);
// What a person reads: a line for each, what to do below it.
std::string body_of(const Sender& sender, const Delivery& delivery);

}  // namespace neap::tell
