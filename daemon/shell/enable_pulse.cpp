#include "daemon/shell/enable_pulse.h"

#include <utility>

#include "daemon/words/words.h"

namespace neap::shell {
namespace {

std::string move_line(drivers::OutputDriver& driver, Permille level) {
  const Fault fault = driver.write(level);
  if (fault == Fault::none) return {};
  const std::string known = driver.trouble();
  return std::string(words::name(fault)) + (known.empty() ? known : ": " + known);
}

}  // namespace

EnablePulse::EnablePulse(TimerQueue& timers, LogSink log, Line line, std::function<bool()> may_beat)
    : timers_(timers),
      log_(std::move(log)),
      line_(std::move(line)),
      may_beat_(std::move(may_beat)) {}

void EnablePulse::follow() {
  if (closed_) return;
  if (!may_beat_()) {
    if (beating_ || trouble_) end();
  } else if (!beating_) {
    beat();
  }
}

// The next edge is half a period from now, not from when this one was due: edges that were missed
// are not made up for.
void EnablePulse::beat() {
  beating_ = false;
  if (closed_) return;
  if (!may_beat_()) return end();
  write(high_ ? kStopped : kRunning);
  beating_ = true;
  timer_ =
      timers_.at(timers_.now() + line_.period / 2, [self = shared_from_this()] { self->beat(); });
}

void EnablePulse::end() {
  timers_.cancel(timer_);
  beating_ = false;
  write(kStopped);
}

void EnablePulse::write(Permille level) {
  if (in_flight_) {
    if (timers_.now() - posted_ > kEdgeDeadline)
      settled(std::string(words::name(Fault::no_answer)));
    return;
  }
  in_flight_ = true;
  posted_ = timers_.now();
  const auto trouble = std::make_shared<std::string>();
  line_.strand->post(
      [driver = line_.driver, trouble, level] { *trouble = move_line(*driver, level); },
      [self = shared_from_this(), trouble, level] {
        self->in_flight_ = false;
        if (self->closed_) return;
        if (trouble->empty()) self->high_ = level == kRunning;
        self->settled(*trouble);
        // The train ended while this edge was on its way.
        if (!self->beating_ && self->high_ && !self->may_beat_()) self->write(kStopped);
      });
}

void EnablePulse::settled(const std::string& trouble) {
  if (trouble_ == !trouble.empty()) return;
  trouble_ = !trouble.empty();
  if (!trouble_)
    log_(LogLevel::info, "the pump's enable pulse goes out again");
  else
    log_(LogLevel::error,
         "the pump's enable pulse cannot be made, and its circuit gives the pump no current: " +
             trouble);
}

void EnablePulse::rest_and_wait(std::chrono::milliseconds limit) {
  timers_.cancel(timer_);
  beating_ = false;
  const auto trouble = std::make_shared<std::string>();
  const bool done = line_.strand->run(
      [driver = line_.driver, trouble] { *trouble = move_line(*driver, kStopped); }, limit);
  if (done && trouble->empty()) high_ = false;
  settled(done ? *trouble : std::string(words::name(Fault::no_answer)));
}

void EnablePulse::close() {
  closed_ = true;
  timers_.cancel(timer_);
}

}  // namespace neap::shell
