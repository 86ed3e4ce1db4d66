// Wall time beside the tick: the real one, or the one of a simulated grow. Only the programme and
// the journal's clock map look at it; no safety decision does.
//
// The process has one time zone, the settings'. It is put into TZ before any thread starts; a
// change of zone therefore needs a restart (loop.h refuses it in an apply).
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "daemon/core/instant.h"

namespace neap::shell {

class WallClock {
 public:
  virtual ~WallClock() = default;
  virtual WallTime at(Instant now) = 0;
};

// Quality: `unset` before 2024 (a board without a battery starts in 1970 or at its image's date),
// `synced` while the kernel says that a time source disciplines it, else `restored`.
class SystemWall final : public WallClock {
 public:
  WallTime at(Instant now) override;
};

// Starts at `start_unix_ms` when the tick is `start` and runs with it.
class VirtualWall final : public WallClock {
 public:
  VirtualWall(Instant start, std::int64_t start_unix_ms)
      : start_(start), start_unix_ms_(start_unix_ms) {}
  WallTime at(Instant now) override;

 private:
  Instant start_;
  std::int64_t start_unix_ms_;
};

// False when the system has no such zone; times are UTC then.
bool set_time_zone(const std::string& name);
// Local minus UTC at that moment, in the zone set.
std::int32_t utc_offset_at(std::int64_t unix_ms);
// "2026-06-01T06:30" in the zone set; none when it is no such text.
std::optional<std::int64_t> unix_ms_of_local(const std::string& text);

}  // namespace neap::shell
