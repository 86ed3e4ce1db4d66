// A whole daemon over the demo's simulated tent, on a clock that jumps.
#pragma once

#include <memory>
#include <string>

#include "daemon/shell/loop.h"
#include "daemon/shell/run.h"
#include "tests/shell/support.h"

namespace neap::shell {

// config/demo.yaml with one piece of text replaced; an empty text when the piece is not in it.
inline std::string demo_with(const std::string& piece, const std::string& by) {
  std::string text = read_file(NEAP_SOURCE_DIR "/config/demo.yaml", 1 << 20).value_or("");
  const std::size_t at = text.find(piece);
  return at == std::string::npos ? std::string() : text.replace(at, piece.size(), by);
}

class SimulatedRun {
 public:
  explicit SimulatedRun(const std::string& text, bool every_second = false,
                        Gate::Find find = drivers::find_output_driver) {
    settings::LoadResult result = settings::load_text(text);
    for (const settings::Problem& problem : result.problems) log_.lines.push_back(problem.message);
    if (!result.loaded) return;
    set_time_zone("UTC");
    constexpr std::int64_t kFromMs = 1'773'964'800'000;  // 2026-03-20T00:00:00Z
    state_file_ = std::make_unique<StateFile>(dir_ / "state", false);
    boot_ = read_boot(*state_file_, {}, false);
    boot_.start = next_whole_second(kUglyStart);
    std::string error;
    world_ = make_world(*result.loaded, boot_.start, kFromMs, error);
    context_.world = world_.get();
    journal::Options options;
    options.path = dir_ / "journal";
    options.durability = journal::Durability::simulated;
    writer_ = journal::Writer::open(options);
    timers_ = std::make_unique<VirtualTimers>(boot_.start, world_.get());
    strands_ = std::make_unique<Strands>(*timers_, false);
    wall_ = std::make_unique<VirtualWall>(boot_.start, kFromMs);
    gate_ = std::make_unique<Gate>(*timers_, *strands_, log_.sink(), find);
    daemon_ = std::make_unique<Daemon>(Parts{*timers_,
                                             *strands_,
                                             *wall_,
                                             *gate_,
                                             *writer_,
                                             *state_file_,
                                             log_.sink(),
                                             dir_.path(),
                                             every_second,
                                             {}});
    started_ = daemon_->start(std::move(*result.loaded), boot_, context_).empty();
  }

  bool started() const { return started_; }
  void run_for(Millis span) { timers_->run_until(timers_->now() + span); }
  Daemon& daemon() { return *daemon_; }
  VirtualTimers& timers() { return *timers_; }
  Strands& strands() { return *strands_; }
  drivers::World& world() { return *world_; }
  const TempDir& dir() const { return dir_; }
  KeptLog& log() { return log_; }

  // Asks and runs on until the answer is there.
  Answer ask(const Request& request) {
    std::optional<Answer> got;
    daemon_->ask(request, [&got](const Answer& answer) { got = answer; });
    timers_->run_until(timers_->now());
    return got.value_or(Answer{});
  }

 private:
  TempDir dir_;
  KeptLog log_;
  Boot boot_;
  drivers::Context context_;
  std::unique_ptr<StateFile> state_file_;
  std::unique_ptr<drivers::World> world_;
  std::unique_ptr<journal::Writer> writer_;
  std::unique_ptr<VirtualTimers> timers_;
  std::unique_ptr<Strands> strands_;
  std::unique_ptr<WallClock> wall_;
  std::unique_ptr<Gate> gate_;
  std::unique_ptr<Daemon> daemon_;
  bool started_ = false;
};

// Floods happen: the level sensor alone speaks for the reservoir.
inline std::string demo_that_floods() {
  return demo_with("      reservoir_low: reservoir.low\n", "");
}

}  // namespace neap::shell
