// The timer queue of a live daemon: an Asio loop woken by a timerfd on CLOCK_BOOTTIME, the clock
// that only moves forward and counts suspend. tick = base + boot time; the base comes from the
// state file, so that the tick never decreases across boots.
//
// Tests run an hour in seconds: at `pace` n the tick runs n times as fast as the boot clock. What a
// busy machine is late by would grow n times too, past a lease, so a faster tick waits at each due
// instant until what is due there has run, and then makes good what it waited. At pace 1 it does
// not wait: a real tent goes on.
//
// io_context is only named here: Asio stays out of every header but control.h's implementation.
#pragma once

#include <memory>

#include "daemon/shell/timers.h"

namespace boost::asio {
class io_context;
}

namespace neap::shell {

class LiveTimers final : public TimerQueue {
 public:
  // The tick reads `start` now. Made on the thread that runs `io`. Throws std::system_error when
  // the kernel gives no timerfd.
  LiveTimers(boost::asio::io_context& io, Instant start, int pace = 1);
  ~LiveTimers() override;

  Instant now() const override;
  TimerId at(Instant due, Action action) override;
  void cancel(TimerId id) override;
  void post(Action action) override;

  // Moves the tick forward, before anything was scheduled: the journal knew a later one.
  void not_before(Instant tick);
  // Simulated drivers on a live clock: the world follows the tick.
  void set_world(drivers::World* world);

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

}  // namespace neap::shell
