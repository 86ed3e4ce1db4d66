#include "daemon/shell/strands.h"

#include <condition_variable>
#include <deque>
#include <mutex>
#include <thread>

namespace neap::shell {
namespace {

// How long a strand's owner waits for a job under way when it closes. Longer than any driver's
// deadline would make a stop slow; a stuck thread is left behind instead.
constexpr std::chrono::milliseconds kCloseWait{500};

struct Job {
  Action work;
  Action done;
};

struct Shared {
  std::mutex mutex;
  std::condition_variable changed;
  std::deque<Job> queue;
  bool closing = false;
  bool idle = true;
};

class ThreadedStrand final : public Strand {
 public:
  explicit ThreadedStrand(TimerQueue& loop)
      : shared_(std::make_shared<Shared>()),
        thread_([&loop, shared = shared_] { serve(shared, loop); }) {}

  ~ThreadedStrand() override {
    std::unique_lock lock(shared_->mutex);
    shared_->closing = true;
    shared_->queue.clear();
    shared_->changed.notify_all();
    const bool quiet =
        shared_->changed.wait_for(lock, kCloseWait, [this] { return shared_->idle; });
    lock.unlock();
    if (quiet) {
      thread_.join();
    } else {
      thread_.detach();
    }
  }

  void post(Action job, Action done) override {
    const std::scoped_lock lock(shared_->mutex);
    shared_->queue.push_back({std::move(job), std::move(done)});
    shared_->changed.notify_all();
  }

  bool run(Action job, std::chrono::milliseconds limit) override {
    struct Wait {
      std::mutex mutex;
      std::condition_variable changed;
      bool finished = false;
    };
    const auto wait = std::make_shared<Wait>();
    post(
        [job = std::move(job), wait] {
          job();
          const std::scoped_lock lock(wait->mutex);
          wait->finished = true;
          wait->changed.notify_all();
        },
        {});
    std::unique_lock lock(wait->mutex);
    return wait->changed.wait_for(lock, limit, [&wait] { return wait->finished; });
  }

 private:
  static void serve(const std::shared_ptr<Shared>& owned, TimerQueue& loop) {
    Shared& shared = *owned;
    std::unique_lock lock(shared.mutex);
    while (true) {
      shared.changed.wait(lock, [&shared] { return shared.closing || !shared.queue.empty(); });
      if (shared.closing) return;
      Job job = std::move(shared.queue.front());
      shared.queue.pop_front();
      shared.idle = false;
      lock.unlock();
      job.work();
      job.work = {};
      lock.lock();
      shared.idle = true;
      // The loop may be gone once the owner is closing; it is asked under the lock for that reason.
      if (!shared.closing && job.done) loop.post(std::move(job.done));
      shared.changed.notify_all();
    }
  }

  std::shared_ptr<Shared> shared_;
  std::thread thread_;
};

}  // namespace

std::unique_ptr<Strand> make_threaded_strand(TimerQueue& loop) {
  return std::make_unique<ThreadedStrand>(loop);
}

Strand& Strands::get(const std::string& name, bool simulated) {
  if (const auto own = by_name_.find(name); own != by_name_.end()) return *own->second;
  if (!threaded_ || simulated) return inline_;
  std::unique_ptr<Strand>& strand = by_name_[name];
  if (!strand) strand = make_threaded_strand(loop_);
  return *strand;
}

}  // namespace neap::shell
