#include "tests/crash/life.h"

#include <fstream>
#include <stdexcept>

#include "daemon/shell/files.h"
#include "tests/places.h"

namespace neap::crash {
namespace {

constexpr std::int64_t kFirstMorning = 1'772'524'800'000;  // 2026-03-03T08:00:00Z

std::string replaced(std::string text, const std::string& piece, const std::string& by) {
  const std::size_t at = text.find(piece);
  if (at == std::string::npos) throw std::runtime_error("config/demo.yaml has no " + piece);
  return text.replace(at, piece.size(), by);
}

constexpr std::array kTentFaults{"leak",
                                 "canopy_sensor_silent",
                                 "drain_blocked",
                                 "pump_dead",
                                 "room_sensor_silent",
                                 "tray_float_stuck_clear",
                                 "leak_probe_open",
                                 "fan_dead"};

// What happens to a tent from outside.
class Happenings {
 public:
  Happenings(Machine& machine, Draw& draw, std::string path)
      : machine_(machine), draw_(draw), path_(std::move(path)) {}

  void next() {
    Request request;
    switch (draw_.below(10)) {
      case 0:
      case 1:
        request.kind = RequestKind::flood_start;
        break;
      case 2:
        request.kind = RequestKind::hold;
        request.level = kRunning;
        request.duration = seconds{20 + static_cast<int>(draw_.below(100))};
        break;
      case 3:
        request.kind = RequestKind::acknowledge;
        request.all = true;
        break;
      case 4:
      case 5:
        request.kind = RequestKind::reset_latch;
        request.latch = kLatches[draw_.below(kLatchCount)].latch;
        break;
      case 6:
        request.kind = draw_.chance(0.5) ? RequestKind::service_begin : RequestKind::service_end;
        request.duration = minutes{20};
        break;
      case 7:
        return new_settings();
      default:
        return break_or_mend();
    }
    machine_.daemon().ask(request, [](const shell::Answer&) {});
  }

 private:
  // Another safe level of the fan: another manifest.
  void new_settings() {
    const std::string by = "fallback: " + std::to_string(40 + draw_.below(20)) + " %";
    std::ofstream(path_) << replaced(crash_settings(), "fallback: 40 %", by);
    machine_.daemon().apply(path_, {}, [](const shell::Applied&) {});
  }
  void break_or_mend() {
    const std::size_t which = draw_.below(kTentFaults.size());
    const bool active = (broken_ >> which & 1) == 0 && draw_.chance(0.5);
    broken_ = active ? broken_ | 1u << which : broken_ & ~(1u << which);
    machine_.world().inject(kTentFaults[which], active, 0.9);
  }

  Machine& machine_;
  Draw& draw_;
  std::string path_;  // of settings to put in force
  unsigned broken_ = 0;
};

// The disk's fault of a stretch, and from when to when what is kept cannot be relied on.
class FailingDisk {
 public:
  FailingDisk(Segment& segment, const Stretch& stretch) : segment_(segment), stretch_(stretch) {}

  void begin() {
    Disk::here().arm(stretch_.fault);
    if (!stretch_.fault) return;
    segment_.fails_from = Disk::here().size();
    segment_.well_from = SIZE_MAX;
  }
  void second(Millis lived) {
    if (lived == stretch_.fault_from) begin();
    met_ = met_ || (stretch_.fault && Disk::here().fault_met());
    if (lived == stretch_.heals_at) Disk::here().arm({});
    const bool over = lived >= stretch_.heals_at.value_or(Millis::max()) ||
                      (stretch_.fault && !stretch_.fault->for_ever && met_);
    if (over && !over_) over_at_ = lived;
    over_ = over;
    if (over && lived == over_at_ + minutes{1}) segment_.well_from = Disk::here().size();
  }

  bool met() const { return met_ || Disk::here().fault_met(); }

 private:
  Segment& segment_;
  const Stretch& stretch_;
  bool met_ = false;
  bool over_ = false;
  Millis over_at_{};
};

}  // namespace

std::string crash_settings() {
  std::string text = shell::read_file(places::in_project("config/demo.yaml"), 1 << 20).value_or("");
  text = replaced(text, "      reservoir_low: reservoir.low\n", "");
  text = replaced(text, "spread: 3,", "spread: 14,");
  text = replaced(text, "min_gap: 40 min", "min_gap: 10 min");
  text = replaced(text, "drain_limit: 25 min", "drain_limit: 20 min");
  return replaced(text, "floods_per_hour: 2", "floods_per_hour: 4");
}

Segment live(std::uint64_t life, int number, const Segment* before, std::size_t cut,
             const Image& disk, bool powered, Millis outage, const Stretch& stretch,
             const std::string& folder, const std::string& scratch) {
  Draw draw(life * 1000 + static_cast<std::uint64_t>(number));
  Segment segment;
  segment.life = life;
  segment.number = number;
  segment.settings = crash_settings();
  if (before != nullptr) {
    segment.unix_ms = before->unix_ms + tick_at(*before, cut) - before->start + outage.count();
    segment.runs_before = runs_until(*before, cut);
    if (powered) segment.pins_before = pins_at(*before, cut);
  } else {
    segment.unix_ms = kFirstMorning + static_cast<std::int64_t>(draw.below(6 * 3'600'000));
  }
  if (!disk.files.empty()) {
    lay_out(disk, scratch, 0);
    segment.before = read_journal(scratch);
  }
  lay_out(disk, folder, 0);
  Pins pins = segment.pins_before;
  Machine machine(folder, segment.settings, segment.unix_ms, pins);
  Disk& recorder = Disk::here();
  recorder.watch(folder, [&machine] { return machine.tick(); });
  FailingDisk failing(segment, stretch);
  if (!stretch.fault_from) failing.begin();
  machine.open_outputs();
  if (!machine.start()) throw std::runtime_error("the settings of the crash tests do not load");
  segment.start = tick_ms(machine.boot().start);
  Happenings happenings(machine, draw, scratch + ".yaml");
  Millis next = minutes{1};
  for (Millis lived{}; lived < stretch.length; lived += seconds{1}) {
    failing.second(lived);
    if (lived >= next) {
      happenings.next();
      next = lived + seconds{60 + static_cast<int>(draw.below(600))};
    }
    machine.run_for(seconds{1});
  }
  segment.fault_met = stretch.fault && failing.met();
  recorder.stop();
  segment.disk_before = recorder.before();
  segment.ops = recorder.ops();
  segment.moments = machine.moments();
  segment.packings = machine.packings();
  segment.ledger = machine.writer().ledger();
  return segment;
}

}  // namespace neap::crash
