#include "daemon/shell/loop.h"

#include <algorithm>

#include "daemon/core/budget.h"
#include "daemon/core/limits.h"
#include "daemon/core/pump_contacts.h"
#include "daemon/shell/version.h"
#include "daemon/words/words.h"

namespace neap::shell {
namespace {

// Learnt values and tallies alone are worth a write to the card this often.
constexpr Millis kSaveAnyway = hours{1};
// After a failed write of the state the next one is tried this much later.
constexpr Millis kSaveRetry = seconds{10};
// A card that has not taken the state by then is in trouble, and a pump that waits for it does not
// start: a flood may be this late, and a card's own housekeeping is over by then.
constexpr Millis kSaveDeadline = seconds{30};
// Start and stop wait for the card at most this long.
constexpr std::chrono::milliseconds kSaveWait{2000};
constexpr const char* kStateStrand = "state file";

Instant whole_second_after(Instant now) { return next_whole_second(now + Millis{1}); }

}  // namespace

Daemon::Daemon(Parts parts)
    : parts_(std::move(parts)),
      event_log_(parts_.log),
      hub_(parts_.timers, parts_.strands, parts_.log, [this](Arrival a) { arrived(a); }),
      notes_(parts_.journal),
      outcome_(std::make_unique<Outcome>()) {}

Daemon::~Daemon() {
  *alive_ = false;
  parts_.timers.cancel(scan_timer_);
  if (!stopped_) parts_.gate.all_safe();
}

void Daemon::start(settings::Loaded loaded, const Boot& boot, drivers::Context& context) {
  context_ = &context;
  boot_ = boot.record;
  later_ = boot.later;
  loaded_ = std::make_unique<settings::Loaded>(std::move(loaded));
  const Instant now = parts_.timers.now();
  std::optional<Kept> kept = boot.kept;
  if (boot.state_lost) kept = worst_case(loaded_->plan, now, boot.kept.value_or(Kept{}));
  state_ = std::make_unique<State>(start_state(loaded_->plan, kept ? &*kept : nullptr, now));

  // The state before all other traces of a run: beside them a state that is not there is one lost.
  save_and_wait();
  manifest_ = next_manifest(*loaded_, load_manifest(parts_.state_dir).value_or(Manifest{}));
  if (later_.empty()) manifest_written(save_manifest(parts_.state_dir, manifest_));
  parts_.journal.put(journal::BootEntry{now, kVersion, boot.clean_before});
  parts_.journal.put(journal::SettingsEntry{now, loaded_->hash, loaded_->text, true, "at start"});
  note(EventKind::boot, Reason::started);
  tell_build(*loaded_, parts_.log);
  no_disk_ = state_trouble_ || manifest_unsure_ || !later_.empty();
  if (no_disk_ && later_.empty())
    parts_.log(LogLevel::error, "nothing can be written in " + parts_.state_dir +
                                    "; neapd runs in safe mode until it can: free space on the "
                                    "disk, or replace the card, and let neapd's user write there");
  parts_.gate.open(manifest_, context);
  hub_.open(loaded_->hardware, context);
  want_scan(whole_second_after(now));
}

void Daemon::stop(const std::string& why, bool clean) {
  if (stopped_) return;
  stopped_ = true;
  parts_.timers.cancel(scan_timer_);
  parts_.gate.all_safe();
  hub_.close();
  if (!state_) return;
  boot_.clean_stop = clean;
  // Where the pump is proven stopped, its run cost what it took, not what was debited.
  const auto open = [&](Output contact) {
    const std::optional<Driven> driven = parts_.gate.driven(contact);
    return !loaded_->plan.outputs[contact] || (driven && driven->stopped());
  };
  if (open(Output::pump) && open(Output::pump_series))
    close_run(state_->kept.budget, parts_.timers.now());
  save_and_wait();
  note(EventKind::boot, Reason::stopped);
  parts_.journal.put(journal::StopEntry{parts_.timers.now(), why});
  for (Pending& pending : waiting_) pending.done({false, because(Reason::stopped)});
  waiting_.clear();
  give_up_reload();
}

void Daemon::note(EventKind kind, Reason reason) {
  Event event;
  event.kind = kind;
  event.because = because(reason);
  note(event, {});
}

void Daemon::note(const Event& event, const std::string& name) {
  parts_.journal.put(journal::EventEntry{now(), event, name});
  log(event, name);
}

void Daemon::log(const Event& event, const std::string& name) {
  event_log_.line(now(), LogLevel::info, words::sentence(event, {}, name));
}

void Daemon::arrived(Arrival arrival) {
  if (!state_ || stopped_) return;
  switch (arrival) {
    case Arrival::routine:
      return;
    case Arrival::sample:
      // At the next whole second, this one included: scans on the grid see the same samples
      // whether they are made every second or only when something is due.
      want_scan(next_whole_second(parts_.timers.now()));
      return;
    case Arrival::edge:
      want_scan(parts_.timers.now());
      return;
  }
}

// The scan is due at `due`, or earlier if it already was.
void Daemon::want_scan(Instant due) {
  if (scan_due_ && *scan_due_ <= due) return;
  parts_.timers.cancel(scan_timer_);
  scan_due_ = due;
  scan_timer_ = parts_.timers.at(due, [this] { scan_now(); });
}

void Daemon::scan_now() {
  if (stopped_) return;
  const Instant now = parts_.timers.now();
  scan_due_.reset();
  // After a standstill what the image says is old: outputs first, then a second in which readings
  // come in.
  if (parts_.gate.lapse_overdue()) return want_scan(whole_second_after(now));
  freeze(now);
  scan(loaded_->plan, law_of(loaded_->plan.climate), *state_, inputs_, now, *outcome_);
  ++scans_;
  if (outcome_->distrust) distrust(boot_, now);
  drive();
  notes_.scanned(loaded_->plan, *state_, inputs_, *outcome_, now);
  for (const Event& event : outcome_->events)
    log(event, name_of(event, loaded_->plan, inputs_.requests));
  want_scan(next_scan(now));
  answer();
  if (parts_.gate.scan_finished() && parts_.after_scan) parts_.after_scan();
}

void Daemon::freeze(Instant now) {
  inputs_.samples = hub_.image();
  inputs_.wall = parts_.wall.at(now);
  inputs_.outputs_proven = parts_.gate.proven();
  inputs_.safe_mode = safe_mode();
  for (const OutputInfo& row : kOutputs)
    inputs_.driven[row.output] = parts_.gate.driven(row.output);
  watch_card(now);
  inputs_.unsaved = state_trouble_ || no_disk_;
  inputs_.pump_waits = pump_waits_;
  look_at_journal();
  const std::optional<Output> troubled = parts_.gate.troubled();
  inputs_.output_trouble = troubled.has_value();
  if (troubled) inputs_.troubled_output = *troubled;
  inputs_.hands.clear();
  while (!hands_.empty() && inputs_.hands.push(hands_.front())) hands_.pop_front();
  inputs_.requests.clear();
  asked_.clear();
  while (!waiting_.empty() && inputs_.requests.push(waiting_.front().request)) {
    asked_.emplace(waiting_.front().request.id, std::move(waiting_.front().done));
    waiting_.pop_front();
  }
}

// Towards safe at once. A pump that is to start waits until the state that debits it is on the
// card; saved() then applies the image of that moment. On a card that refuses the state it does not
// start: the next scan is told so.
void Daemon::drive() {
  const Instant now = parts_.timers.now();
  parts_.gate.apply_safe(outcome_->outputs);
  const Millis due = state_trouble_ || no_disk_ ? kSaveRetry : kSaveAnyway;
  if (outcome_->keep || now - saved_at_ >= due) save_soon();
  parts_.gate.apply(card_owes() ? without_pump_start() : outcome_->outputs);
  pump_waits_ = pump_is_to_start();
}

// Granted, and not yet driven.
bool Daemon::pump_is_to_start() const {
  const auto driven = [&](Output contact) { return parts_.gate.level(contact).value_or(kStopped); };
  return pump_runs(loaded_->plan, outcome_->outputs) &&
         pump_told(loaded_->plan, driven(Output::pump), driven(Output::pump_series)) !=
             PumpTold::runs;
}

OutputImage Daemon::without_pump_start() const {
  OutputImage image = outcome_->outputs;
  if (pump_is_to_start())
    image.commands[Output::pump].level = image.commands[Output::pump_series].level = kStopped;
  return image;
}

// At most one write is under way; what changed meanwhile is written after it, the newest wins.
void Daemon::save_soon() {
  if (!later_.empty()) return;
  save_again_ = saving_;
  if (saving_) return;
  saving_ = true;
  saving_since_ = parts_.timers.now();
  const auto error = std::make_shared<std::string>();
  const auto job = [file = &parts_.state_file, stored = to_keep(), error] {
    *error = file->save(*stored);
  };
  parts_.strands.get(kStateStrand, false).post(job, [this, alive = alive_, error] {
    if (*alive) saved(*error);
  });
}

void Daemon::saved(const std::string& error) {
  saving_ = false;
  tell_saved(error);
  if (stopped_) return;
  if (no_disk_ && error.empty()) take_disk_back();
  if (save_again_) return save_soon();
  parts_.gate.apply(card_owes() ? without_pump_start() : outcome_->outputs);
}

// A card that does not answer is as bad as one that refuses.
void Daemon::watch_card(Instant now) {
  if (saving_ && now - saving_since_ >= kSaveDeadline)
    tell_saved("the card has not answered for " + std::to_string(kSaveDeadline.count() / 1000) +
               " s");
}

// After a start without a disk: the state is on it now. The manifest must be too, before anything
// is driven away from safe, for a crash would leave it there.
void Daemon::take_disk_back() {
  if (!manifest_unsure_) {
    no_disk_ = false;
    parts_.log(LogLevel::info, "the disk can be written again; safe mode for want of it is over");
    return want_scan(parts_.timers.now());
  }
  if (reload_) return;  // it writes a manifest of its own
  const auto error = std::make_shared<std::string>();
  const auto job = [dir = parts_.state_dir, manifest = manifest_, error] {
    *error = save_manifest(dir, manifest);
  };
  parts_.strands.get(kReloadStrand, false).post(job, [this, alive = alive_, error] {
    if (!*alive || stopped_) return;
    manifest_written(*error);
    if (!manifest_unsure_) take_disk_back();
  });
}

void Daemon::manifest_written(const std::string& error) {
  if (!error.empty() && !manifest_unsure_) parts_.log(LogLevel::error, "output manifest: " + error);
  manifest_unsure_ = !error.empty();
}

void Daemon::save_and_wait() {
  if (!later_.empty()) return;
  const auto error = std::make_shared<std::string>();
  const auto job = [file = &parts_.state_file, stored = to_keep(), error] {
    *error = file->save(*stored);
  };
  const bool done = parts_.strands.get(kStateStrand, false).run(job, kSaveWait);
  tell_saved(done ? *error : "the card does not answer");
}

std::shared_ptr<const Stored> Daemon::to_keep() {
  saved_at_ = parts_.timers.now();
  boot_.last_tick = tick_ms(saved_at_);
  return std::make_shared<const Stored>(Stored{state_->kept, boot_});
}

void Daemon::tell_saved(const std::string& error) {
  if (error.empty() == !state_trouble_) return;
  state_trouble_ = !error.empty();
  if (scans_ > 0) want_scan(parts_.timers.now());  // what the pump may do has changed
  parts_.log(state_trouble_ ? LogLevel::error : LogLevel::info,
             state_trouble_ ? "state file: " + error + "; no flood starts until it can be written"
                            : "state file is written again");
}

// What the journal complains of is said when it begins and when it is over.
void Daemon::look_at_journal() {
  const bool refused = parts_.journal.trouble();
  const std::string notice = parts_.journal.log_notice();
  inputs_.journal_trouble = refused;
  inputs_.journal_log_grows = !notice.empty();
  const bool complains = refused || !notice.empty();
  if (complains == journal_complains_) return;
  journal_complains_ = complains;
  if (complains)
    parts_.log(LogLevel::error, refused ? parts_.journal.trouble_text() : notice);
  else
    parts_.log(LogLevel::info, "the journal is well again");
}

void Daemon::answer() {
  for (const Event& event : outcome_->events) {
    if (event.kind != EventKind::request) continue;
    const auto found = asked_.find(event.request_id);
    if (found == asked_.end()) continue;
    const auto done = std::move(found->second);
    asked_.erase(found);
    done({event.accepted, event.because});
  }
  // The scan answers every request; one that it did not was lost to a full event list.
  for (const auto& [id, done] : std::exchange(asked_, {})) done({false, because(Reason::none)});
  if (!waiting_.empty() || !hands_.empty()) want_scan(parts_.timers.now());
}

Instant Daemon::next_scan(Instant now) const {
  const Instant soonest = whole_second_after(now);
  if (parts_.every_second) return soonest;
  Instant due = std::min(outcome_->next_wake, now + limits::kLongestSleep);
  // A lease is renewed a second before it ends at the latest.
  for (const OutputInfo& row : kOutputs)
    if (const auto until = parts_.gate.lease(row.output)) due = std::min(due, *until - seconds{1});
  if (due == now + limits::kLongestSleep) due = instant(Millis{tick_ms(due) / 1000 * 1000});
  return std::max(soonest, next_whole_second(due));
}

void Daemon::note_by_hand(const HandNote& note) {
  if (!state_ || stopped_) return;
  hands_.push_back(note);
  want_scan(parts_.timers.now());
}

void Daemon::ask(Request request, std::function<void(const Answer&)> done) {
  if (!state_ || stopped_) {
    done({false, because(Reason::stopped)});
    return;
  }
  request.id = ++last_request_;
  waiting_.push_back({request, std::move(done)});
  want_scan(parts_.timers.now());
}

}  // namespace neap::shell
