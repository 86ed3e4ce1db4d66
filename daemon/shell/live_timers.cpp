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

std::int64_t boottime_ms() {
  timespec t{};
  clock_gettime(CLOCK_BOOTTIME, &t);
  return static_cast<std::int64_t>(t.tv_sec) * 1000 + t.tv_nsec / 1'000'000;
}

int open_timerfd() {
  const int fd = timerfd_create(CLOCK_BOOTTIME, TFD_NONBLOCK | TFD_CLOEXEC);
  if (fd < 0) throw std::system_error(errno, std::generic_category(), "timerfd_create");
  return fd;
}

}  // namespace

struct LiveTimers::Impl : std::enable_shared_from_this<LiveTimers::Impl> {
  Impl(boost::asio::io_context& context, Instant start)
      : io(context), descriptor(context, open_timerfd()), base_ms(tick_ms(start) - boottime_ms()) {}

  Instant now() const { return instant(Millis{base_ms + boottime_ms()}); }

  // Arms the timerfd for the first entry; asks Asio once for the next readiness.
  void arm() {
    const std::optional<Instant> due = list.next_due();
    itimerspec spec{};
    if (due) {
      // At least 1 ns: an all-zero time would disarm the timer.
      const std::int64_t at_ms = std::max<std::int64_t>(tick_ms(*due) - base_ms, 0);
      spec.it_value.tv_sec = static_cast<time_t>(at_ms / 1000);
      spec.it_value.tv_nsec = std::max<long>(static_cast<long>(at_ms % 1000) * 1'000'000, 1);
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
    const Instant moment = now();
    while (!closed) {
      const std::optional<Instant> due = list.next_due();
      if (!due || *due > moment) break;
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
    Instant reached{};
    do {
      reached = world->advance_to(target);
      run_soon();
    } while (reached < target);
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
  std::int64_t base_ms;
  TimerList list;
  drivers::World* world = nullptr;
  const std::thread::id loop_thread = std::this_thread::get_id();
  bool turn = false;         // a timer's action runs; read on the loop thread only
  std::vector<Action> soon;  // posted by it: runs right after it, as under the virtual clock
  bool waiting = false;
  bool closed = false;
};

LiveTimers::LiveTimers(boost::asio::io_context& io, Instant start)
    : impl_(std::make_shared<Impl>(io, start)) {}

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
  if (reached < tick) impl_->base_ms += (tick - reached).count();
}

void LiveTimers::set_world(drivers::World* world) { impl_->world = world; }

}  // namespace neap::shell
