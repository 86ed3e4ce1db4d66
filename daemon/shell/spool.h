// The spool: hand measurements that were written while the daemon was down (schema/control.md).
// Each file is taken in once, by the id in it, and removed in a later round, when the journal has
// had time to make it durable; a crash in between takes it in again and the journal knows the id.
#pragma once

#include <set>
#include <string>

#include "daemon/shell/loop.h"

namespace neap::shell {

class Spool {
 public:
  static constexpr Millis kRound = seconds{30};
  static constexpr int kFilesARound = 100;
  static constexpr std::size_t kLongestFile = 16 * 1024;

  Spool(Daemon& daemon, TimerQueue& timers, std::string folder, LogSink log);
  ~Spool() { timers_.cancel(timer_); }
  Spool(const Spool&) = delete;
  Spool& operator=(const Spool&) = delete;

  void round();

 private:
  void take(const std::string& path);
  void tell_waiting(const std::string& path);
  void refuse(const std::string& path, const std::string& why);

  Daemon& daemon_;
  TimerQueue& timers_;
  std::string folder_;
  LogSink log_;
  std::set<std::string> taken_;
  std::set<std::string> waiting_;  // that were told of
  TimerId timer_ = 0;
};

}  // namespace neap::shell
