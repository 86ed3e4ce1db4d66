// The two-phase reload of class Daemon.
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
  if (before.plan.mode != after.plan.mode)
    problems.push_back({0, 0, "mode",
                        "mode changes; a running neapd neither lets go of its outputs nor takes "
                        "them over",
                        "restart neapd to change the mode"});
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

Applied Daemon::apply(const std::string& path, std::optional<std::uint64_t> hash) {
  Applied out;
  settings::LoadResult result = settings::load_file(path);
  out.problems = std::move(result.problems);
  if (result.loaded) {
    out.text = result.loaded->text;
    out.hash = result.loaded->hash;
    out.difference = settings::difference(*loaded_, *result.loaded);
    add_obstacles(*loaded_, *result.loaded, out.problems);
    if (hash && *hash != out.hash) out.failure = path + " changed since it was checked";
  }
  Manifest manifest;
  if (out.problems.empty() && result.loaded && out.failure.empty()) {
    manifest = manifest_of(result.loaded->plan, result.loaded->hardware);
    manifest.revision = manifest_.revision + 1;
    out.failure = save_manifest(parts_.state_dir, manifest);
  }
  if (!out.problems.empty() || !result.loaded || !out.failure.empty()) {
    parts_.journal.put(journal::SettingsEntry{now(), out.hash, out.text, false,
                                              out.failure + notes_of(out.problems)});
    note(EventKind::settings, Reason::settings_refused);
    return out;
  }
  manifest_ = std::move(manifest);
  parts_.journal.put(
      journal::SettingsEntry{now(), out.hash, out.text, true, lines_of(out.difference)});
  adopt(std::move(*result.loaded));
  note(EventKind::settings, Reason::settings_applied);
  out.applied = true;
  return out;
}

void Daemon::adopt(settings::Loaded next) {
  adopt_plan(loaded_->plan, next.plan, *state_, now());
  *loaded_ = std::move(next);
  parts_.gate.open(manifest_, *context_);
  hub_.open(loaded_->hardware, *context_);
  save_soon();
  want_scan(now());
}

}  // namespace neap::shell
