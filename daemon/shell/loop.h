// The daemon: the scan and everything that happens around it. The same class runs live, with a
// clock that jumps, and in tests; only the timer queue, the wall clock and the drivers differ.
//
// Order within a scan: freeze inputs, scan(), outputs towards safe, state file when something must
// be kept, remaining outputs, journal, answers, log. The state file has a strand of its own: a card
// that stalls delays no scan, no lease and no edge. Only the pump's start waits for it, because the
// debit must be durable before the pump runs; a card that refuses it withholds the flood. Where
// nothing can be written at all at the start, the daemon runs in safe mode until it can.
//
// All members are called on the loop's thread.
#pragma once

#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/scan.h"
#include "daemon/journal/journal.h"
#include "daemon/settings/settings.h"
#include "daemon/shell/boot.h"
#include "daemon/shell/gate.h"
#include "daemon/shell/hub.h"
#include "daemon/shell/notes.h"
#include "daemon/shell/trace.h"
#include "daemon/shell/wall.h"

namespace neap::shell {

// What the daemon stands on. All of it outlives the daemon.
struct Parts {
  TimerQueue& timers;
  Strands& strands;
  WallClock& wall;
  Gate& gate;  // open on the manifest already, where there is one
  journal::Writer& journal;
  StateFile& state_file;
  LogSink log;
  std::string state_dir;     // of the manifest
  bool every_second = true;  // false: scan only when something is due (virtual clock)
  // Feeds the watchdog: called after a scan, unless an output's strand hangs. May be empty.
  std::function<void()> after_scan;
};

struct Answer {
  bool accepted = false;
  Because because;
};

struct Applied {
  bool applied = false;
  std::vector<settings::Problem> problems;
  std::string text;  // that was checked; problems point into it
  std::vector<std::string> difference;
  std::uint64_t hash = 0;
  std::string failure;  // not a fault of the settings: disk, changed meanwhile
};

class Daemon {
 public:
  explicit Daemon(Parts parts);
  ~Daemon();

  // Takes the settings, writes their output manifest, opens the hardware, scans for the first time
  // at the next whole second.
  void start(settings::Loaded loaded, const Boot& boot, drivers::Context& context);

  // Outputs safe, then the rest: state, journal. `clean` marks a proper stop.
  void stop(const std::string& why, bool clean);

  // An operator's request, answered by the next scan, which is made at once.
  void ask(Request request, std::function<void(const Answer&)> done);

  // What a person measured, for the next scan.
  void note_by_hand(const HandNote& note);

  // Two-phase reload: load, check and compare; only then, between two scans, the new plan takes the
  // place of the old one. `hash`: of the text that was checked before; a file changed since is
  // refused. With any problem nothing changes.
  // Scans go on meanwhile; `done` is called once, now or after the disk has answered.
  void apply(const std::string& path, std::optional<std::uint64_t> hash,
             std::function<void(const Applied&)> done);
  // The first phase alone.
  Applied check(const std::string& text) const;

  // Journals and logs an event of the shell's own making; `name` as of journal::EventEntry.
  void note(const Event& event, const std::string& name);

  const settings::Loaded& loaded() const { return *loaded_; }
  const State& state() const { return *state_; }
  const Gate& gate() const { return parts_.gate; }
  const Hub& hub() const { return hub_; }
  Instant now() const { return parts_.timers.now(); }
  WallTime wall() const { return parts_.wall.at(now()); }
  journal::Writer& journal() { return parts_.journal; }
  drivers::World* world() const { return context_ == nullptr ? nullptr : context_->world; }
  bool safe_mode() const { return no_disk_ || tick_ms(now()) < boot_.safe_mode_until; }
  // Safe mode because neither state nor manifest could be written at the start, nor since; or must
  // not be (later()).
  bool without_disk() const { return no_disk_; }
  // Boot::later: why nothing is changed here. Empty: nothing stands in the way.
  const std::string& later() const { return later_; }
  std::uint64_t scans() const { return scans_; }
  std::uint64_t trace_hash() const { return notes_.trace_hash(); }

 private:
  // Reading settings and writing the manifest: a slow disk holds neither a scan nor a save of the
  // state.
  static constexpr const char* kReloadStrand = "reload";
  struct Reload;
  struct Pending {
    Request request;
    std::function<void(const Answer&)> done;
  };
  void arrived(Arrival arrival);
  void want_scan(Instant due);
  void scan_now();
  void freeze(Instant now);
  void look_at_journal();
  void drive();
  void answer();
  void save_soon();
  void save_and_wait();
  void saved(const std::string& error);
  void tell_saved(const std::string& error);
  void watch_card(Instant now);
  void take_disk_back();
  void manifest_written(const std::string& error);
  bool card_owes() const { return saving_ || state_trouble_; }
  std::shared_ptr<const Stored> to_keep();
  bool pump_is_to_start() const;
  OutputImage without_pump_start() const;
  void on_reload_strand(Action job, void (Daemon::*then)());
  void compare();
  void written();
  void commit();
  void give_up_reload();
  void adopt(settings::Loaded next);
  Instant next_scan(Instant now) const;
  void note(EventKind kind, Reason reason);
  void log(const Event& event, const std::string& name);

  Parts parts_;
  drivers::Context* context_ = nullptr;
  EventLog event_log_;
  Hub hub_;
  Notes notes_;
  std::unique_ptr<settings::Loaded> loaded_;
  std::unique_ptr<State> state_;
  std::unique_ptr<Outcome> outcome_;
  Inputs inputs_;
  BootRecord boot_;
  std::string later_;
  Manifest manifest_;               // as it is on the disk
  bool manifest_unsure_ = false;    // unless its last write failed
  std::shared_ptr<Reload> reload_;  // under way, if any
  bool state_trouble_ = false;      // the state could not be written, or the card does not answer
  bool no_disk_ = false;            // nothing could be written since the start
  bool journal_complains_ = false;
  bool saving_ = false;      // a state is on its way to the card
  bool save_again_ = false;  // and it is not the newest any more
  Instant saving_since_{};
  bool pump_waits_ = false;  // its start is granted, and its debit not on the card
  std::shared_ptr<bool> alive_ = std::make_shared<bool>(true);  // for what comes back too late
  bool stopped_ = false;
  std::deque<HandNote> hands_;                                         // not yet in a scan
  std::deque<Pending> waiting_;                                        // not yet in a scan
  std::map<std::uint32_t, std::function<void(const Answer&)>> asked_;  // in this scan
  std::uint32_t last_request_ = 0;
  TimerId scan_timer_ = 0;
  std::optional<Instant> scan_due_;
  Instant saved_at_{};
  std::uint64_t scans_ = 0;
};

}  // namespace neap::shell
