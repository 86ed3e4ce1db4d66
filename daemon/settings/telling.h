// Who is told what, and through which programs. neapd knows of none of it: `neap tell run`, a
// program of another user, does.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "daemon/core/alarm.h"
#include "daemon/core/instant.h"
#include "daemon/core/plan.h"

namespace neap::settings {

enum class HookTells : std::uint8_t { messages, heartbeat };

struct Hook {
  std::string name;
  std::vector<std::string> command;  // argv; the first is an absolute path
  HookTells tells = HookTells::messages;
  Priority from = Priority::low;  // alarms of this priority and above
  bool daily = true;              // the line of the day; else a proof without words
  Millis time_limit{};            // 1 to 60 s, then it and what it started are killed
  Millis try_for{};               // 5 min to 7 d: how long one message is tried
  int most_an_hour = 0;           // starts; what may wake people is not counted
};

struct Telling {
  std::vector<Hook> hooks;   // at least one; names differ
  Millis heartbeat{};        // 1 min to 1 h
  std::int32_t daily_s = 0;  // second of the day
  QuietHours quiet;
  Millis remind{};                     // 5 min to 24 h
  std::optional<std::string> metrics;  // absolute path of a *.prom
};

}  // namespace neap::settings
