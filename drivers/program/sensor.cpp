#include <poll.h>
#include <sys/eventfd.h>

#include <mutex>
#include <thread>

#include "drivers/program/lockstep.h"
#include "drivers/program/program.h"
#include "drivers/program/session.h"

namespace neap::drivers {
namespace {

using program::Answer;
using program::ChannelValues;
using program::Process;
using program::Role;
using program::Session;

constexpr int kMissesAllowed = 2;  // the third in a row ends the program
constexpr Millis kByeGrace{200};   // to end by itself when neap ends
constexpr Millis kDeadline{1500};  // nothing blocks but collecting a killed program: 1 s
constexpr Millis kFastestPeriod{1000};

// The strand asks and fetches; a watcher thread reads what the program says unasked, and lives as
// long as one process does. mutex_ guards all below it; the session's process is made and ended by
// the strand while no watcher runs.
class ProgramSensor final : public Sensor {
 public:
  ProgramSensor(const Params& params, const Context& context) : session_(params, context) {}
  ~ProgramSensor() override { end(kByeGrace); }

  Started begin() override {
    end_if_dead();
    if (!session_.process() && !start()) return {Fault::no_answer, {}};
    bool sent = false;
    {
      const std::lock_guard lock(mutex_);
      lines_since_asked_ = 0;
      edge_told_ = false;
      values_.reset();
      const auto stamp = session_.next_stamp();
      asked_ = stamp.seq;
      sent = session_.process()->send(program::read_request(stamp));
    }
    if (sent) return {Fault::none, session_.answer_within()};
    end(Millis{0});
    return {Fault::no_answer, {}};
  }

  void finish(Deliveries& out) override {
    if (!session_.process()) return deliver(out, all(Fault::no_answer));
    bool over = false;
    {
      const std::lock_guard lock(mutex_);
      take_in();
      misses_ = values_ ? 0 : misses_ + 1;
      over = broken_ || stream_ != Process::Stream::open || misses_ > kMissesAllowed;
      if (broken_) {
        deliver(out, all(*broken_));
      } else {
        deliver(out, values_.value_or(all(Fault::no_answer)));
      }
    }
    if (over) end(Millis{0});
  }

  void watch(std::function<void()> on_edge) override { on_edge_ = std::move(on_edge); }

 private:
  static ChannelValues all(Fault fault) {
    ChannelValues values{};
    for (auto& value : values) value.fault = fault;
    return values;
  }

  static void deliver(Deliveries& out, const ChannelValues& values) {
    for (std::size_t channel = 0; channel < values.size(); ++channel)
      out.push({static_cast<int>(channel), values[channel].value, values[channel].fault});
  }

  bool start() {
    if (!session_.start()) return false;
    misses_ = 0;
    lines_since_asked_ = 0;
    greeted_ = false;
    edge_told_ = false;
    broken_.reset();
    values_.reset();
    stream_ = Process::Stream::open;
    const auto stamp = session_.next_stamp();
    hello_ = stamp.seq;
    session_.process()->send(program::hello_to_sensor(stamp));
    return !on_edge_ || start_watching();
  }

  bool start_watching() {
    stop_watching_ = Descriptor{::eventfd(0, EFD_CLOEXEC)};
    if (!stop_watching_) {  // a watcher that cannot be stopped is not started
      end(Millis{0});
      return false;
    }
    watcher_ = std::thread([this] { watch_output(); });
    return true;
  }

  void end_if_dead() {
    if (!session_.process()) return;
    bool open = true;
    {
      const std::lock_guard lock(mutex_);
      take_in();
      open = stream_ == Process::Stream::open;
    }
    if (!open) end(Millis{0});
  }

  void end(Millis grace) {
    if (watcher_.joinable()) {
      ::eventfd_write(stop_watching_.get(), 1);
      watcher_.join();
    }
    session_.end(grace);
  }

  void watch_output() {
    bool open = true;
    while (open) {
      std::array<pollfd, 2> waits{pollfd{session_.process()->output(), POLLIN, 0},
                                  pollfd{stop_watching_.get(), POLLIN, 0}};
      ::poll(waits.data(), waits.size(), -1);
      if (waits[1].revents != 0) return;
      bool tell = false;
      {
        const std::lock_guard lock(mutex_);
        const bool edge = take_in();
        tell = edge && !edge_told_;
        edge_told_ = edge_told_ || edge;
        open = stream_ == Process::Stream::open && !broken_;
      }
      if (tell) on_edge_();  // once between two reads: a chattering program cannot storm the hub
    }
  }

  // Reads what has arrived; was there an edge? With mutex_ held.
  bool take_in() {
    Process& process = *session_.process();
    stream_ = process.take_in();
    bool edge = false;
    while (const auto line = process.next_line()) {
      if (++lines_since_asked_ > program::kUnreadLines) break_with(Fault::corrupt);
      const auto answer = program::parse_answer(*line);
      if (!answer) {
        break_with(Fault::corrupt);
      } else if (answer->seq) {
        take(*answer);
      } else {
        edge = edge || answer->edge;
      }
    }
    if (stream_ == Process::Stream::flooded) break_with(Fault::corrupt);
    return edge;
  }

  void break_with(Fault why) {  // the first reason stands
    if (!broken_) broken_ = why;
  }

  void take(const Answer& answer) {
    if (*answer.seq > session_.last_seq() || *answer.seq < hello_) {
      break_with(Fault::corrupt);
    } else if (*answer.seq == hello_) {
      greeted_ = answer.ok && answer.role == Role::sensor;
      if (!greeted_) break_with(Fault::no_answer);
    } else if (!greeted_) {
      break_with(Fault::corrupt);
    } else if (*answer.seq == asked_ && !values_) {
      // `ok: false` is an answer too: the program lives but has nothing to tell.
      values_ = answer.ok ? answer.values : all(Fault::no_answer);
      if (!values_) break_with(Fault::corrupt);
    }
    // An answer to an earlier question came too late: its time is not known, so it is not used.
  }

  Session session_;
  std::function<void()> on_edge_;
  std::thread watcher_;
  Descriptor stop_watching_;

  std::mutex mutex_;
  std::int64_t hello_ = 0;
  std::int64_t asked_ = 0;
  std::size_t lines_since_asked_ = 0;
  int misses_ = 0;
  bool greeted_ = false;
  bool edge_told_ = false;
  Process::Stream stream_ = Process::Stream::open;
  std::optional<Fault> broken_;  // why the program must be ended
  std::optional<ChannelValues> values_;
};

// One part of a plant. Under the virtual clock nothing waits for it, so it asks when it is fetched.
class PlantSensor final : public Sensor {
 public:
  PlantSensor(const Params& params, program::Lockstep* lockstep)
      : command_(params.words("command")),
        part_(params.text("part")),
        answer_within_(program::answer_within(params)),
        lockstep_(lockstep) {}

  Started begin() override { return {lockstep_ ? Fault::none : Fault::no_answer, {}}; }
  void finish(Deliveries& out) override {
    const ChannelValues values = lockstep_->read(command_, part_, answer_within_);
    for (std::size_t channel = 0; channel < values.size(); ++channel)
      out.push({static_cast<int>(channel), values[channel].value, values[channel].fault});
  }

 private:
  std::vector<std::string> command_;
  std::string part_;
  Millis answer_within_;
  program::Lockstep* lockstep_;
};

std::unique_ptr<Sensor> make(const Params& params, Context& context) {
  if (params.truth("lockstep")) return std::make_unique<PlantSensor>(params, context.lockstep);
  return std::make_unique<ProgramSensor>(params, context);
}

}  // namespace

constinit const SensorInfo kProgramSensor{
    .name = "program",
    .about = "a program of yours that speaks JSON lines (schema/program-driver.md)",
    .channels = program::kChannels,
    .params = program::kSensorParams,
    .fastest_period = kFastestPeriod,
    .deadline = kDeadline,
    .simulated = false,
    .strand = program::strand,
    .make = make,
    .check = program::check_sensor,
};

}  // namespace neap::drivers
