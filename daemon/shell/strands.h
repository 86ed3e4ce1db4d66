// Strands: drivers that share a bus share a strand, so two of them never run at once. Where drivers
// may block, a strand is a thread; simulated drivers and everything under the virtual clock run
// inline. The loop never waits for a strand: it posts a job and is told when it is done.
#pragma once

#include <chrono>
#include <map>
#include <memory>
#include <string>

#include "daemon/shell/timers.h"

namespace neap::shell {

class Strand {
 public:
  virtual ~Strand() = default;
  // Runs `job` on the strand, then `done` on the loop. Jobs run in order. A job must own what it
  // touches (shared_ptr): it may outlive whoever posted it when its bus hangs.
  virtual void post(Action job, Action done) = 0;
  // Runs `job` and waits for it at most `limit`; false when it did not finish. For start and exit.
  virtual bool run(Action job, std::chrono::milliseconds limit) = 0;
};

// Runs at once, on the caller's thread.
class InlineStrand final : public Strand {
 public:
  void post(Action job, Action done) override {
    job();
    done();
  }
  bool run(Action job, std::chrono::milliseconds) override {
    job();
    return true;
  }
};

// A thread with a queue; `done` comes back through TimerQueue::post. A thread that is stuck in a
// driver when the strand is destroyed is left behind, with all that its job owns.
std::unique_ptr<Strand> make_threaded_strand(TimerQueue& loop);

// Strands by name. `threaded` false: every strand is inline.
class Strands {
 public:
  Strands(TimerQueue& loop, bool threaded) : loop_(loop), threaded_(threaded) {}
  // Simulated drivers always run inline: their world belongs to the loop.
  Strand& get(const std::string& name, bool simulated);
  // Serves `name` by a strand of the caller's making.
  void put(const std::string& name, std::unique_ptr<Strand> strand) {
    by_name_[name] = std::move(strand);
  }

 private:
  TimerQueue& loop_;
  bool threaded_;
  InlineStrand inline_;
  std::map<std::string, std::unique_ptr<Strand>> by_name_;
};

}  // namespace neap::shell
