// What the journal's newest rows say that a person should hear.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "daemon/journal/reader.h"
#include "daemon/tell/message.h"
#include "daemon/words/words.h"

namespace neap::tell {

// "02:10" of a moment at the tent, from its journal; "at a time not known" where no clock was.
std::string clock_of(const journal::Stamp& stamp);

// Of one transition of an alarm; none when it is nobody's news (acknowledged, shelved, muted).
std::optional<Message> news_of(const journal::EventRow& row, const words::Style& style);
// Of an alarm that stood already when the telling began, or that nobody has acknowledged.
Message standing(const journal::AlarmSpan& span, Kind kind, const words::Style& style);

// Which alarms to remind of, and when next: by the steady clock from the moment they were seen.
class Reminders {
 public:
  // `unacknowledged`: the alarms of high priority that stand so now, in any order.
  std::vector<journal::AlarmSpan> due(const std::vector<journal::AlarmSpan>& unacknowledged,
                                      Millis every, Now now);

 private:
  struct Next {
    Alarm alarm;
    std::int64_t raised_tick;
    std::int64_t at_ms;
  };
  std::vector<Next> next_;
};

}  // namespace neap::tell
