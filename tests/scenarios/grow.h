// A whole grow for a story: the daemon on its virtual clock over the simulated tent, with the power
// cut and restored at will, the tent's own truth beside what the daemon says, and the journal to
// read at the end.
#pragma once

#include <algorithm>
#include <functional>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "daemon/journal/reader.h"
#include "daemon/shell/loop.h"
#include "daemon/shell/run.h"
#include "drivers/simulated/tent.h"
#include "tests/places.h"
#include "tests/shell/support.h"

namespace neap::scenarios {

// `text` with every pair's first piece replaced by its second; empty when a piece is not in it.
using Edits = std::vector<std::pair<std::string, std::string>>;
inline std::string edited(std::string text, const Edits& edits) {
  for (const auto& [piece, by] : edits) {
    const std::size_t at = text.find(piece);
    if (at == std::string::npos) return {};
    text.replace(at, piece.size(), by);
  }
  return text;
}

inline std::string demo(const Edits& edits = {}) {
  return edited(shell::read_file(places::in_project("config/demo.yaml"), 1 << 20).value_or(""),
                edits);
}

const std::string kDemoFault =
    "  faults:\n    - {fault: canopy_sensor_silent, at: 31 h, lasts: 10 min}\n";
// The demo without its scripted fault.
inline std::string quiet_demo(const Edits& edits = {}) {
  return edited(demo({{kDemoFault, ""}}), edits);
}

// The tick starts anew where the last run's ended, however long the power was out: the world's
// clock is ahead of it by the outages.
class ShiftedWorld final : public drivers::World {
 public:
  explicit ShiftedWorld(drivers::World& world) : world_(world) {}
  void ahead_by(Millis shift) { shift_ = shift; }
  Millis ahead() const { return shift_; }

  Instant advance_to(Instant target) override {
    return world_.advance_to(target + shift_) - shift_;
  }
  FaultAnswer inject(std::string_view fault, bool active, double severity) override {
    return world_.inject(fault, active, severity);
  }
  std::span<const FaultName> fault_names() const override { return world_.fault_names(); }

 private:
  drivers::World& world_;
  Millis shift_{};
};

class Grow {
 public:
  // Begins at lights-on of the demo's leafing stage unless told otherwise. problem() says why not.
  explicit Grow(settings::LoadResult result, const std::string& from = "2026-03-20T06:00") {
    for (const settings::Problem& row : result.problems) problem_ += row.message + "\n";
    if (!result.loaded) return;
    loaded_ = std::move(*result.loaded);
    shell::set_time_zone(loaded_.plan.time_zone);
    const auto from_ms = shell::unix_ms_of_local(from);
    if (!from_ms) {
      problem_ = from + " is no local time";
      return;
    }
    from_ms_ = *from_ms;
    origin_ = next_whole_second(shell::kUglyStart);
    tent_ = shell::make_world(loaded_, origin_, from_ms_, problem_);
    if (!tent_) return;
    shifted_ = std::make_unique<ShiftedWorld>(*tent_);
    boot();
  }
  explicit Grow(const std::string& text, const std::string& from = "2026-03-20T06:00")
      : Grow(settings::load_text(text), from) {}

  const std::string& problem() const { return problem_; }
  shell::Daemon& daemon() { return *parts_->daemon; }
  const State& state() { return daemon().state(); }
  Instant now() const { return parts_->timers.now(); }
  // Since the start of the grow, outages included.
  Millis elapsed() const { return now() + shifted_->ahead() - origin_; }
  drivers::Truth truth() const { return dynamic_cast<drivers::Tent&>(*tent_).truth(); }
  bool latched(Latch latch) { return state().kept.kernel.latched[static_cast<std::size_t>(latch)]; }
  Permille level(Output output) { return daemon().gate().level(output).value_or(kStopped); }
  bool alarm_stands(Alarm alarm) {
    const AlarmState s = state().kept.alarms[static_cast<std::size_t>(alarm)].state;
    return s == AlarmState::unacknowledged || s == AlarmState::acknowledged;
  }

  void run_for(Millis span) { parts_->timers.run_until(now() + span); }
  void run_to(Millis since_start) { run_for(since_start - elapsed()); }
  // Runs on second by second until `done`, at most `most`; false when it never was.
  bool run_until(const std::function<bool()>& done, Millis most) {
    for (const Instant end = now() + most; !done(); run_for(seconds{1}))
      if (now() >= end) return false;
    return true;
  }
  bool fault(const std::string& name, bool active, double severity = 1) {
    return tent_->inject(name, active, severity).accepted;
  }
  shell::Answer ask(const Request& request) {
    std::optional<shell::Answer> got;
    daemon().ask(request, [&got](const shell::Answer& answer) { got = answer; });
    parts_->timers.run_until(now());
    return got.value_or(shell::Answer{});
  }

  // The board dies in the midst of whatever it did, its relays fall, and after `outage` it starts
  // again on the same card.
  void cut_power(Millis outage) {
    const Instant world_then = now() + shifted_->ahead() + outage;
    parts_.reset();
    while (tent_->advance_to(world_then) < world_then) {
    }
    boot(world_then);
  }

  // The journal so far: where it is, and to read.
  std::string journal_path() {
    parts_->writer->flush();
    return dir_ / "journal";
  }
  std::unique_ptr<journal::Reader> read() {
    std::string error;
    auto reader = journal::Reader::open(journal_path(), error);
    if (!reader) problem_ = error;
    return reader;
  }

 private:
  struct Parts {  // everything that dies with the power, in order of construction
    Parts(const std::string& dir, const shell::Boot& boot, std::int64_t boot_ms,
          drivers::World* world, const shell::LogSink& log)
        : state_file(dir + "/state", false),
          timers(boot.start, world),
          strands(timers, false),
          wall(boot.start, boot_ms),
          gate(timers, strands, log) {
      journal::Options options;
      options.path = dir + "/journal";
      options.durability = journal::Durability::simulated;
      writer = journal::Writer::open(options);
      daemon = std::make_unique<shell::Daemon>(
          shell::Parts{timers, strands, wall, gate, *writer, state_file, log, dir, false, {}});
    }
    shell::StateFile state_file;
    std::unique_ptr<journal::Writer> writer;
    shell::VirtualTimers timers;
    shell::Strands strands;
    shell::VirtualWall wall;
    shell::Gate gate;
    std::unique_ptr<shell::Daemon> daemon;
  };

  void boot(std::optional<Instant> world_now = {}) {
    shell::StateFile file(dir_ / "state", false);
    const auto newest = world_now ? journal::newest_tick(dir_ / "journal") : std::nullopt;
    shell::Boot boot = shell::read_boot(file, newest, world_now.has_value());
    boot.start = next_whole_second(world_now ? boot.start : origin_);
    shifted_->ahead_by(world_now.value_or(origin_) - boot.start);
    context_.world = tent_.get();
    const std::int64_t boot_ms = from_ms_ + (boot.start + shifted_->ahead() - origin_).count();
    parts_ = std::make_unique<Parts>(dir_.path(), boot, boot_ms, shifted_.get(), log_.sink());
    parts_->daemon->start(loaded_, boot, context_);
  }

  shell::TempDir dir_;
  shell::KeptLog log_;
  settings::Loaded loaded_;
  std::string problem_;
  std::int64_t from_ms_ = 0;
  Instant origin_{};
  drivers::Context context_;
  std::unique_ptr<drivers::World> tent_;
  std::unique_ptr<ShiftedWorld> shifted_;
  std::unique_ptr<Parts> parts_;
};

inline Request request(RequestKind kind) {
  Request result;
  result.kind = kind;
  return result;
}
inline Request reset_of(Latch latch) {
  Request result = request(RequestKind::reset_latch);
  result.latch = latch;
  return result;
}

}  // namespace neap::scenarios
