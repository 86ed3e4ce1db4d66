// The two-phase reload of class Daemon. Files are read and written on a strand of their own; what
// follows from them happens on the loop, between two scans.
#include <utility>

#include "daemon/shell/loop.h"

namespace neap::shell {
namespace {

std::string lines_of(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines) text += line + "\n";
  return text;
}

std::string notes_of(const std::vector<settings::Problem>& problems) {
  std::string text;
  for (const settings::Problem& problem : problems)
    text += std::to_string(problem.line) + ":" + std::to_string(problem.column) + ": " +
            problem.message + "\n";
  return text;
}

// What the settings may not change while this process runs, beside what the hardware forbids.
void add_obstacles(const settings::Loaded& before, const settings::Loaded& after,
                   std::vector<settings::Problem>& problems) {
  for (settings::Problem& obstacle : settings::reload_obstacles(before, after))
    problems.push_back(std::move(obstacle));
  for (settings::Problem& obstacle : settings::live_obstacles(after))
    problems.push_back(std::move(obstacle));
  if (before.plan.time_zone != after.plan.time_zone)
    problems.push_back({0, 0, "time_zone",
                        "time_zone changes from " + before.plan.time_zone + " to " +
                            after.plan.time_zone + "; a running neapd keeps its zone",
                        "restart neapd to change the time zone"});
}

}  // namespace

Applied Daemon::check(const std::string& text) const {
  Applied out;
  out.text = text;
  settings::LoadResult result = settings::load_text(text);
  out.problems = std::move(result.problems);
  if (!result.loaded) return out;
  out.hash = result.loaded->hash;
  out.difference = settings::difference(*loaded_, *result.loaded);
  add_obstacles(*loaded_, *result.loaded, out.problems);
  return out;
}

// A reload under way. Jobs on the strand own it: they may outlive the daemon when the disk hangs.
struct Daemon::Reload {
  std::string path;
  std::optional<std::uint64_t> hash;
  std::function<void(const Applied&)> done;
  settings::LoadResult result;
  Manifest manifest;
  Applied out;
};

void Daemon::apply(const std::string& path, std::optional<std::uint64_t> hash,
                   std::function<void(const Applied&)> done) {
  if (stopped_ || reload_ || !later_.empty()) {
    Applied refused;
    refused.failure = !later_.empty() ? later_
                      : stopped_      ? "neapd stops"
                                      : "another reload is under way";
    return done(refused);
  }
  reload_ = std::make_shared<Reload>();
  reload_->path = path;
  reload_->hash = hash;
  reload_->done = std::move(done);
  on_reload_strand(
      [reload = reload_] { reload->result = settings::load_guarded_file(reload->path); },
      &Daemon::compare);
}

void Daemon::on_reload_strand(Action job, void (Daemon::*then)()) {
  parts_.strands.get(kReloadStrand, false).post(std::move(job), [this, alive = alive_, then] {
    if (*alive && reload_) (this->*then)();
  });
}

// The end of the first phase. What is already on the disk, byte for byte, is not written again.
void Daemon::compare() {
  Applied& out = reload_->out;
  settings::LoadResult& result = reload_->result;
  out.problems = std::move(result.problems);
  if (result.loaded) {
    out.text = result.loaded->text;
    out.hash = result.loaded->hash;
    out.difference = settings::difference(*loaded_, *result.loaded);
    add_obstacles(*loaded_, *result.loaded, out.problems);
    if (reload_->hash && *reload_->hash != out.hash)
      out.failure = reload_->path + " changed since it was checked";
  }
  if (!out.problems.empty() || !result.loaded || !out.failure.empty()) return commit();
  Manifest& manifest = reload_->manifest;
  manifest = next_manifest(*result.loaded, manifest_);
  if (manifest.revision == manifest_.revision && !manifest_unsure_) return commit();
  manifest.revision = manifest_.revision + 1;
  on_reload_strand(
      [reload = reload_, dir = parts_.state_dir] {
        reload->out.failure = save_manifest(dir, reload->manifest);
      },
      &Daemon::written);
}

// After a failed write one copy may be the new one: the next reload writes, and outnumbers it.
void Daemon::written() {
  manifest_written(reload_->out.failure);
  if (manifest_unsure_) manifest_.revision = reload_->manifest.revision;
  commit();
}

// The second phase, between two scans.
void Daemon::commit() {
  const std::shared_ptr<Reload> reload = std::exchange(reload_, nullptr);
  Applied& out = reload->out;
  out.applied = out.problems.empty() && reload->result.loaded && out.failure.empty();
  const std::string note_text =
      out.applied ? lines_of(out.difference) : out.failure + notes_of(out.problems);
  parts_.journal.put(journal::SettingsEntry{now(), out.hash, out.text, out.applied, note_text});
  if (out.applied) {
    manifest_ = std::move(reload->manifest);
    adopt(std::move(*reload->result.loaded));
  }
  note(EventKind::settings, out.applied ? Reason::settings_applied : Reason::settings_refused);
  reload->done(out);
}

void Daemon::give_up_reload() {
  const std::shared_ptr<Reload> reload = std::exchange(reload_, nullptr);
  if (!reload) return;
  Applied refused;
  refused.failure = "neapd stops";
  reload->done(refused);
}

void Daemon::adopt(settings::Loaded next) {
  adopt_plan(loaded_->plan, next.plan, *state_, now());
  *loaded_ = std::move(next);
  tell_build(*loaded_, parts_.log);
  parts_.gate.open(manifest_, *context_);
  hub_.open(loaded_->hardware, *context_);
  save_soon();
  want_scan(now());
}

}  // namespace neap::shell
