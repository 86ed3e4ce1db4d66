#include "daemon/shell/boot.h"

#include <algorithm>

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

Boot read_boot(StateFile& file, std::optional<Instant> journal_tick, bool ran_before) {
  Boot boot;
  const StateFile::Answer answer = file.load();
  const bool known = answer.found == StateFile::Found::whole && answer.stored.has_value();
  boot.first_run = answer.found == StateFile::Found::absent && !ran_before;
  boot.state_lost = !known && !boot.first_run;
  if (known) {
    boot.record = answer.stored->boot;
    boot.kept = answer.stored->kept;
  }
  const std::int64_t journalled = journal_tick ? tick_ms(*journal_tick) : 0;
  boot.start = instant(Millis{std::max(boot.record.last_tick, journalled) + 1});
  boot.clean_before = boot.first_run || boot.record.clean_stop;
  if (boot.clean_before)
    boot.record.dirty_count = 0;
  else
    count_dirty_start(boot.record, boot.start);
  boot.record.clean_stop = false;
  boot.record.last_tick = tick_ms(boot.start);
  return boot;
}

}  // namespace neap::shell
