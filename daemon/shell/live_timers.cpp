#include "daemon/shell/live_timers.h"

#include <sys/timerfd.h>
#include <unistd.h>

#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/post.hpp>
#include <cerrno>
#include <ctime>
#include <system_error>
#include <thread>
#include <vector>

namespace neap::shell {
namespace {

constexpr std::int64_t kNsPerMs = 1'000'000;
constexpr std::int64_t kNsPerSecond = 1'000'000'000;

std::int64_t boottime_ns() {
  timespec t{};
  clock_gettime(CLOCK_BOOTTIME, &t);
  return static_cast<std::int64_t>(t.tv_sec) * kNsPerSecond + t.tv_nsec;
}

int open_timerfd() {
  const int fd = timerfd_create(CLOCK_BOOTTIME, TFD_NONBLOCK | TFD_CLOEXEC);
  if (fd < 0) throw std::system_error(errno, std::generic_category(), "timerfd_create");
  return fd;
}

}  // namespace

struct LiveTimers::Impl : std::enable_shared_from_this<LiveTimers::Impl> {
  Impl(boost::asio::io_context& context, Instant start, int times)
      : io(context),
        descriptor(context, open_timerfd()),
        began(start),
        reached(start),
        pace(times) {}

  // Where the boot clock puts the tick.
  Instant clock() const { return began + Millis{(boottime_ns() - began_ns) * pace / kNsPerMs}; }
  // The boot clock when the tick is `due`, rounded up.
  std::int64_t boot_ns_at(Instant due) const {
    return began_ns + ((due - began).count() * kNsPerMs + pace - 1) / pace;
  }

  Instant now() {
    if (pace == 1) return clock();
    const Instant held = turn ? reached : std::min(clock(), list.next_due().value_or(clock()));
    reached = std::max(reached, held);
    return reached;
  }

  // Arms the timerfd for the first entry; asks Asio once for the next readiness.
  void arm() {
    const std::optional<Instant> due = list.next_due();
    itimerspec spec{};
    if (due) {
      // At least 1 ns: an all-zero time would disarm the timer.
      const std::int64_t at_ns = std::max<std::int64_t>(boot_ns_at(*due), 1);
      spec.it_value.tv_sec = static_cast<time_t>(at_ns / kNsPerSecond);
      spec.it_value.tv_nsec = static_cast<long>(at_ns % kNsPerSecond);
    }
    timerfd_settime(descriptor.native_handle(), TFD_TIMER_ABSTIME, &spec, nullptr);
    if (waiting) return;
    waiting = true;
    descriptor.async_wait(boost::asio::posix::stream_descriptor::wait_read,
                          [self = shared_from_this()](const boost::system::error_code& error) {
                            self->waiting = false;
                            if (error || self->closed) return;
                            self->expired();
                          });
  }

  void expired() {
    std::uint64_t count = 0;
    // The count does not matter and an early wake is harmless: what is due is judged by now().
    [[maybe_unused]] const ssize_t got = ::read(descriptor.native_handle(), &count, sizeof count);
    const Instant moment = clock();
    while (!closed) {
      const std::optional<Instant> due = list.next_due();
      if (!due || *due > moment) break;
      reached = std::max(reached, *due);
      turn = true;
      step_world(*due);
      if (Action action = list.take_due(moment)) action();
      run_soon();
      turn = false;
    }
    if (!closed) arm();
  }

  // Edges that the world reports run before what is due, as they do under the virtual clock.
  void step_world(Instant target) {
    if (world == nullptr) return;
    Instant stepped{};
    do {
      stepped = world->advance_to(target);
      run_soon();
    } while (stepped < target);
  }

  void run_soon() {
    for (std::size_t i = 0; i < soon.size(); ++i) {
      const Action action = std::move(soon[i]);
      action();
    }
    soon.clear();
  }

  boost::asio::io_context& io;
  boost::asio::posix::stream_descriptor descriptor;
  Instant began;  // the tick when the boot clock read began_ns
  const std::int64_t began_ns = boottime_ns();
  Instant reached;  // at a pace above 1: the tick does not go back where it waited
  const int pace;
  TimerList list;
  drivers::World* world = nullptr;
  const std::thread::id loop_thread = std::this_thread::get_id();
  bool turn = false;         // a timer's action runs; read on the loop thread only
  std::vector<Action> soon;  // posted by it: runs right after it, as under the virtual clock
  bool waiting = false;
  bool closed = false;
};

LiveTimers::LiveTimers(boost::asio::io_context& io, Instant start, int pace)
    : impl_(std::make_shared<Impl>(io, start, pace)) {}

LiveTimers::~LiveTimers() {
  impl_->closed = true;
  boost::system::error_code ignored;
  impl_->descriptor.close(ignored);
}

Instant LiveTimers::now() const { return impl_->now(); }

TimerId LiveTimers::at(Instant due, Action action) {
  const std::optional<Instant> before = impl_->list.next_due();
  const TimerId id = impl_->list.add(due, std::move(action));
  if (!before || due < *before) impl_->arm();
  return id;
}

void LiveTimers::cancel(TimerId id) { impl_->list.cancel(id); }

void LiveTimers::post(Action action) {
  if (std::this_thread::get_id() == impl_->loop_thread && impl_->turn) {
    impl_->soon.push_back(std::move(action));
    return;
  }
  boost::asio::post(impl_->io, std::move(action));
}

void LiveTimers::not_before(Instant tick) {
  const Instant reached = now();
  if (reached < tick) impl_->began += tick - reached;
}

void LiveTimers::set_world(drivers::World* world) { impl_->world = world; }

}  // namespace neap::shell
