#include "daemon/shell/boot.h"

#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <sstream>

#include "daemon/core/state_folder.h"
#include "daemon/settings/build.h"
#include "daemon/shell/files.h"

namespace neap::shell {
namespace {

// Notes this start in the ring of dirty ones and decides on safe mode.
void count_dirty_start(BootRecord& record, Instant start) {
  const std::int64_t now = tick_ms(start);
  const auto size = static_cast<std::int32_t>(record.dirty_starts.size());
  const std::int32_t used = std::clamp(record.dirty_count, 0, size);
  const auto kept_end =
      std::remove_if(record.dirty_starts.begin(), record.dirty_starts.begin() + used,
                     [now](std::int64_t tick) { return now - tick > Boot::kLoopWindow.count(); });
  auto recent = static_cast<std::int32_t>(kept_end - record.dirty_starts.begin());
  if (recent == size) {
    std::rotate(record.dirty_starts.begin(), record.dirty_starts.begin() + 1,
                record.dirty_starts.end());
    --recent;
  }
  record.dirty_starts[static_cast<std::size_t>(recent)] = now;
  record.dirty_count = recent + 1;
  if (record.dirty_count >= Boot::kDirtyStarts)
    record.safe_mode_until = now + Boot::kSafeMode.count();
}

}  // namespace

void distrust(BootRecord& record, Instant now) {
  record.safe_mode_until = tick_ms(now) + Boot::kSafeMode.count();
}

std::string make_state_dir(const std::string& state_dir, const LogSink& log) {
  namespace fs = std::filesystem;
  std::error_code error;
  const fs::path path = fs::absolute(state_dir, error).lexically_normal();
  const fs::path dir = path.has_filename() ? path : path.parent_path();
  if (!fs::is_directory(dir, error)) {
    if (!fs::is_directory(dir.parent_path(), error))
      return state_dir + " is not there, nor is " + dir.parent_path().string() +
             "; make the latter, or correct --state-dir";
    if (!fs::create_directory(dir, error))
      return state_dir + ": " + error.message() + "; make it yourself, or correct --state-dir";
    log(LogLevel::warning, "state directory " + dir.string() +
                               " is new: a first run, with no budget, latch or stage kept before");
  }
  if (!fs::is_directory(dir / state_folder::kSpool, error) &&
      !fs::create_directory(dir / state_folder::kSpool, error))
    log(LogLevel::warning, (dir / state_folder::kSpool).string() + ": " + error.message() +
                               "; free space on the disk and let neapd's user write there, or "
                               "what `neap measure` notes is not taken in");
  return {};
}

Boot read_boot(StateFile& file, std::optional<Instant> known_tick, bool ran_before) {
  Boot boot;
  const StateFile::Answer answer = file.load();
  const bool known = answer.found == StateFile::Found::whole && answer.stored.has_value();
  boot.first_run = answer.found == StateFile::Found::absent && !ran_before;
  boot.state_lost = !known && !boot.first_run;
  boot.one_slot = answer.one_damaged;
  if (answer.of_later)
    boot.later =
        "a later neap has written the state; install that neap again, or move the file state out "
        "of the state directory: floods are then withheld until `neap reset state`";
  if (known) {
    boot.record = answer.stored->boot;
    boot.kept = answer.stored->kept;
  }
  const std::int64_t beside = known_tick ? tick_ms(*known_tick) : 0;
  if (known && beside - boot.record.last_tick > Boot::kStateAge.count()) boot.state_lost = true;
  boot.start = instant(Millis{std::max(boot.record.last_tick, beside) + 1});
  boot.clean_before = boot.first_run || boot.record.clean_stop;
  if (boot.clean_before)
    boot.record.dirty_count = 0;
  else
    count_dirty_start(boot.record, boot.start);
  boot.record.clean_stop = false;
  boot.record.last_tick = tick_ms(boot.start);
  return boot;
}

void mind_restored(Boot& boot, const std::string& state_dir) {
  constexpr std::size_t kLongest = 64 * 1024;
  const std::string marker = state_dir + "/" + state_folder::kRestored;
  if (::access(marker.c_str(), F_OK) != 0) return;
  boot.restored = boot.state_lost = true;
  if (!boot.kept) boot.kept.emplace();
  std::istringstream paths(read_file(marker, kLongest).value_or(""));
  for (std::string path; std::getline(paths, path);) {
    const StateFile::Answer before = StateFile(path, false).load();
    if (!before.stored) continue;
    auto& latched = boot.kept->kernel.latched;
    for (std::size_t i = 0; i < latched.size(); ++i)
      latched[i] = latched[i] || before.stored->kept.kernel.latched[i];
  }
}

void tell_build(const settings::Loaded& loaded, const LogSink& log) {
  for (const settings::BuildFinding& one : settings::check_build(loaded.plan, loaded.build))
    if (one.weight == settings::Weight::warning)
      log(LogLevel::warning,
          "build, " + std::string(one.part) + ": " + one.text + "; " + one.remedy);
}

}  // namespace neap::shell
