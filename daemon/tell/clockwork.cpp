#include "daemon/tell/clockwork.h"

namespace neap::tell {

bool daily_due(std::optional<std::int32_t> told, CivilTime civil, std::int32_t at_s) {
  if (civil.second_of_day < at_s) return false;
  return !told || *told < civil.date || *told > civil.date + 1;
}

bool Beat::due(Millis every, Now now) {
  if (next_ms_ && now.steady_ms < *next_ms_) return false;
  next_ms_ = now.steady_ms + every.count();
  return true;
}

Pulse::Change Pulse::look(std::optional<std::int64_t> newest_tick, Now now) {
  const bool moved = newest_tick && newest_tick != tick_;
  if (moved || !moved_ms_) {
    const bool first = !moved_ms_;
    seen_moving_ = seen_moving_ || (moved && !first);
    tick_ = newest_tick;
    moved_ms_ = now.steady_ms;
    const bool back = silent_ && !first;
    silent_ = false;
    return back ? Change::came_back : Change::none;
  }
  if (silent_ || now.steady_ms - *moved_ms_ < kSilentAfterMs) return Change::none;
  silent_ = true;
  return Change::fell_silent;
}

}  // namespace neap::tell
