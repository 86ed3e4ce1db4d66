// The pulse train that a dead-man circuit at the pump waits for: a monostable or a watchdog relay
// that opens the pump's supply when the edges stay away (config/wiring.md). Only the edge says
// alive; both levels of the line are dead, so it does not matter which one a dead process leaves.
//
// Each edge asks anew whether it may come, and a late one is left out: a loop that stood still
// makes up for nothing. The line has a strand of its own, so that no other device's slow write
// starves a circuit which has to stop the pump without a reason.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "daemon/shell/log.h"
#include "daemon/shell/strands.h"
#include "daemon/shell/timers.h"
#include "drivers/driver.h"

namespace neap::shell {

// All members are called on the loop's thread.
class EnablePulse : public std::enable_shared_from_this<EnablePulse> {
 public:
  // An edge whose write takes longer is a fault of the line (as Gate has it).
  static constexpr Millis kEdgeDeadline = seconds{2};

  struct Line {
    std::shared_ptr<drivers::OutputDriver> driver;  // two-position
    Strand* strand = nullptr;                       // its own
    Millis period{};                                // of one high and one low
  };
  // `may_beat`: whether an edge may be made at this moment.
  EnablePulse(TimerQueue& timers, LogSink log, Line line, std::function<bool()> may_beat);

  // Begins or ends the train as `may_beat` says now. Its end leaves the line low: a falling edge at
  // most, and no rising one.
  void follow();
  // No edge from here on; the line low, waiting for that at most `limit`. For start and exit.
  void rest_and_wait(std::chrono::milliseconds limit);
  // Nothing comes from it any more.
  void close();
  // The line could not be moved when it was last tried.
  bool trouble() const { return trouble_; }

 private:
  void beat();
  void end();
  void write(Permille level);
  void settled(const std::string& trouble);

  TimerQueue& timers_;
  LogSink log_;
  Line line_;
  std::function<bool()> may_beat_;
  TimerId timer_ = 0;
  bool beating_ = false;    // the timer is armed
  bool high_ = false;       // as far as the line took it
  bool in_flight_ = false;  // an edge is on the strand; at most one is
  Instant posted_{};
  bool trouble_ = false;
  bool closed_ = false;
};

}  // namespace neap::shell
