// A whole daemon over the demo's simulated tent: on a clock that jumps, or on any timer queue.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "daemon/shell/loop.h"
#include "daemon/shell/run.h"
#include "tests/places.h"
#include "tests/shell/support.h"

namespace neap::shell {

// config/demo.yaml with one piece of text replaced; an empty text when the piece is not in it.
inline std::string demo_with(const std::string& piece, const std::string& by) {
  std::string text = read_file(places::in_project("config/demo.yaml"), 1 << 20).value_or("");
  const std::size_t at = text.find(piece);
  return at == std::string::npos ? std::string() : text.replace(at, piece.size(), by);
}

constexpr std::int64_t kMidnightMs = 1'773'964'800'000;  // 2026-03-20T00:00:00Z

// The parts of a daemon over a simulated tent. Who makes the timer queue also runs it.
class SimulatedDaemon {
 public:
  struct How {
    bool every_second = false;
    bool threaded = false;  // strands that are no simulated driver's
    std::int64_t from_unix_ms = kMidnightMs;
    Gate::Find find = drivers::find_output_driver;
    std::function<void()> after_scan = {};
    std::function<void(Strands&)> strands = {};  // before anything uses them
  };
  // `queue` is asked once, for a queue whose tick is at the start and that steps the world.
  using MakeQueue = std::function<std::unique_ptr<TimerQueue>(Instant, drivers::World*)>;

  SimulatedDaemon(const std::string& text, const How& how, const MakeQueue& queue) {
    settings::LoadResult result = settings::load_text(text);
    for (const settings::Problem& problem : result.problems) log_.lines.push_back(problem.message);
    if (!result.loaded) return;
    set_time_zone("UTC");
    state_file_ = std::make_unique<StateFile>(dir_ / "state", false);
    boot_ = read_boot(*state_file_, {}, false);
    boot_.start = next_whole_second(kUglyStart);
    std::string error;
    world_ = make_world(*result.loaded, boot_.start, how.from_unix_ms, error);
    context_.world = world_.get();
    journal::Options options;
    options.path = dir_ / "journal";
    options.durability = journal::Durability::simulated;
    writer_ = journal::Writer::open(options);
    timers_ = queue(boot_.start, world_.get());
    strands_ = std::make_unique<Strands>(*timers_, how.threaded);
    if (how.strands) how.strands(*strands_);
    wall_ = std::make_unique<VirtualWall>(boot_.start, how.from_unix_ms);
    gate_ = std::make_unique<Gate>(*timers_, *strands_, log_.sink(), how.find);
    daemon_ =
        std::make_unique<Daemon>(Parts{*timers_, *strands_, *wall_, *gate_, *writer_, *state_file_,
                                       log_.sink(), dir_.path(), how.every_second, how.after_scan});
    daemon_->start(std::move(*result.loaded), boot_, context_);
    started_ = true;
  }

  bool started() const { return started_; }
  Instant start() const { return boot_.start; }
  Daemon& daemon() { return *daemon_; }
  TimerQueue& queue() { return *timers_; }
  Strands& strands() { return *strands_; }
  drivers::World& world() { return *world_; }
  const TempDir& dir() const { return dir_; }
  KeptLog& log() { return log_; }
  // Ends the daemon and its journal; gives the journal's path.
  std::string close() {
    daemon_->stop("test", true);
    writer_->flush();
    return dir_ / "journal";
  }

 private:
  TempDir dir_;
  KeptLog log_;
  Boot boot_;
  drivers::Context context_;
  std::unique_ptr<StateFile> state_file_;
  std::unique_ptr<drivers::World> world_;
  std::unique_ptr<journal::Writer> writer_;
  std::unique_ptr<TimerQueue> timers_;
  std::unique_ptr<Strands> strands_;
  std::unique_ptr<WallClock> wall_;
  std::unique_ptr<Gate> gate_;
  std::unique_ptr<Daemon> daemon_;
  bool started_ = false;
};

// On a clock that jumps.
class SimulatedRun : public SimulatedDaemon {
 public:
  explicit SimulatedRun(const std::string& text, bool every_second = false,
                        Gate::Find find = drivers::find_output_driver)
      : SimulatedRun(text, How{every_second, false, kMidnightMs, find, {}, {}}) {}
  SimulatedRun(const std::string& text, const How& how)
      : SimulatedDaemon(text, how, [](Instant start, drivers::World* world) {
          return std::make_unique<VirtualTimers>(start, world);
        }) {}

  void run_for(Millis span) { timers().run_until(timers().now() + span); }
  VirtualTimers& timers() { return static_cast<VirtualTimers&>(queue()); }

  // Asks and runs on until the answer is there.
  Answer ask(const Request& request) {
    std::optional<Answer> got;
    daemon().ask(request, [&got](const Answer& answer) { got = answer; });
    timers().run_until(timers().now());
    return got.value_or(Answer{});
  }

  // As the name says; the answer is there at once unless the strand is stalled.
  Applied apply(const std::string& path, std::optional<std::uint64_t> hash = {}) {
    std::optional<Applied> got;
    daemon().apply(path, hash, [&got](const Applied& applied) { got = applied; });
    return got.value_or(Applied{});
  }
};

// Floods happen: the level sensor alone speaks for the reservoir.
inline std::string demo_that_floods() {
  return demo_with("      reservoir_low: reservoir.low\n", "");
}

}  // namespace neap::shell
