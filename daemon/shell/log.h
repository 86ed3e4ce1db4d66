// Where the shell's log lines go. The shell logs sentences, not data: the journal has the data.
#pragma once

#include <functional>
#include <string>

#include "daemon/core/instant.h"

namespace neap::shell {

enum class LogLevel : unsigned char { debug, info, warning, error };
using LogSink = std::function<void(LogLevel, const std::string&)>;

// At most kLinesPerMinute event lines a minute of tick; the rest are counted, and the count is
// logged when the next minute begins. A storm of events must not become a storm of log writes.
class EventLog {
 public:
  static constexpr int kLinesPerMinute = 20;

  explicit EventLog(LogSink sink) : sink_(std::move(sink)) {}

  void line(Instant now, LogLevel level, const std::string& text) {
    const std::int64_t minute = tick_ms(now) / 60'000;
    if (minute != minute_) {
      if (unsaid_ > 0)
        sink_(LogLevel::warning,
              std::to_string(unsaid_) + " more events in that minute; `neap events` has them all");
      minute_ = minute;
      said_ = 0;
      unsaid_ = 0;
    }
    if (said_ == kLinesPerMinute) {
      ++unsaid_;
      return;
    }
    ++said_;
    sink_(level, text);
  }

 private:
  LogSink sink_;
  std::int64_t minute_ = 0;
  int said_ = 0;
  int unsaid_ = 0;
};

}  // namespace neap::shell
