// Which alarms explain which: a storm of alarms is told by its causes, with what follows from each
// beneath it. Nothing is hidden by it, and no alarm waits for it.
#pragma once

#include <optional>

#include "daemon/core/alarm.h"

namespace neap {

// Raised and not shelved away: what a screen shows.
constexpr bool is_raised(const AlarmRecord& record) {
  return record.state == AlarmState::unacknowledged || record.state == AlarmState::acknowledged;
}

// The raised alarm at the root of this one; none when it stands for itself.
std::optional<Alarm> root_cause(Alarm alarm, const AlarmTable& table);

// Every alarm once: causes by priority, each with its followers after it.
using AlarmOrder = std::array<Alarm, kAlarmCount>;
AlarmOrder causes_first(const AlarmTable& table);

}  // namespace neap
