// The one timer queue of the shell: hub, leases, back-off and scan use nothing else. It exists
// twice behind one interface: LiveTimers waits on a boot-time timerfd, VirtualTimers jumps. Equal
// instants run in the order in which they were asked for, so both give the same events.
//
// The simulated world hangs on the queue too: before anything due at `t` runs, the world is stepped
// to `t`; where it stops early because a contact changed, what the edge posted runs there and then.
#pragma once

#include <algorithm>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <utility>
#include <vector>

#include "daemon/core/instant.h"
#include "drivers/driver.h"

namespace neap::shell {

using TimerId = std::uint64_t;
using Action = std::function<void()>;

class TimerQueue {
 public:
  virtual ~TimerQueue() = default;
  virtual Instant now() const = 0;
  // Runs `action` once at `due`; an instant in the past means as soon as possible.
  virtual TimerId at(Instant due, Action action) = 0;
  // Unknown and already spent ids are ignored.
  virtual void cancel(TimerId id) = 0;
  // Runs `action` on the loop as soon as possible. The only member that other threads may call.
  virtual void post(Action action) = 0;
};

// What is due when; shared by both queues.
class TimerList {
 public:
  TimerId add(Instant due, Action action) {
    const TimerId id = ++last_id_;
    entries_.emplace(std::pair{due, id}, std::move(action));
    due_of_.emplace(id, due);
    return id;
  }
  void cancel(TimerId id) {
    const auto found = due_of_.find(id);
    if (found == due_of_.end()) return;
    entries_.erase(std::pair{found->second, id});
    due_of_.erase(found);
  }
  std::optional<Instant> next_due() const {
    if (entries_.empty()) return std::nullopt;
    return entries_.begin()->first.first;
  }
  // Takes the first entry that is due at `now` out of the list; empty when there is none.
  Action take_due(Instant now) {
    if (entries_.empty() || entries_.begin()->first.first > now) return {};
    auto node = entries_.extract(entries_.begin());
    due_of_.erase(node.key().second);
    return std::move(node.mapped());
  }

 private:
  std::map<std::pair<Instant, TimerId>, Action> entries_;
  std::map<TimerId, Instant> due_of_;
  TimerId last_id_ = 0;
};

// A clock that jumps from one due instant to the next. One thread only: under it every strand runs
// its jobs inline.
class VirtualTimers final : public TimerQueue {
 public:
  explicit VirtualTimers(Instant start, drivers::World* world = nullptr)
      : now_(start), world_(world) {}

  Instant now() const override { return now_; }
  TimerId at(Instant due, Action action) override { return list_.add(due, std::move(action)); }
  void cancel(TimerId id) override { list_.cancel(id); }
  void post(Action action) override { posted_.push_back(std::move(action)); }

  void set_world(drivers::World* world) { world_ = world; }
  // Runs everything due up to and including `end` and leaves the clock there, unless stop() was
  // called meanwhile.
  void run_until(Instant end) {
    stopped_ = false;
    run_posted();
    while (!stopped_) {
      const std::optional<Instant> due = list_.next_due();
      const Instant target = due && *due < end ? std::max(*due, now_) : end;
      now_ =
          world_ == nullptr ? target : std::min(std::max(world_->advance_to(target), now_), target);
      run_posted();
      if (now_ < target) continue;
      while (!stopped_) {
        Action action = list_.take_due(now_);
        if (!action) break;
        action();
        run_posted();
      }
      if (now_ >= end) return;
    }
  }
  void stop() { stopped_ = true; }

 private:
  void run_posted() {
    for (std::size_t i = 0; i < posted_.size(); ++i) {
      const Action action = std::move(posted_[i]);
      action();
    }
    posted_.clear();
  }

  Instant now_;
  drivers::World* world_;
  TimerList list_;
  std::vector<Action> posted_;
  bool stopped_ = false;
};

}  // namespace neap::shell
