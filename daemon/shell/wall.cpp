#include "daemon/shell/wall.h"

#include <sys/timex.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <ctime>

namespace neap::shell {
namespace {

constexpr std::int64_t kYear2024Ms = 1'704'067'200'000;  // 2024-01-01T00:00:00Z
// Zones change their offset on quarter hours of UTC, so an offset is asked for once a quarter.
constexpr std::int64_t kQuarterMs = 15 * 60 * 1000;

bool kernel_is_synced() {
  timex state{};
  const int answer = ::adjtimex(&state);
  return answer >= 0 && answer != TIME_ERROR && (state.status & STA_UNSYNC) == 0;
}

}  // namespace

WallTime SystemWall::at(Instant) {
  timespec t{};
  clock_gettime(CLOCK_REALTIME, &t);
  WallTime out;
  out.unix_ms = static_cast<std::int64_t>(t.tv_sec) * 1000 + t.tv_nsec / 1'000'000;
  out.utc_offset_s = utc_offset_at(out.unix_ms);
  if (out.unix_ms < kYear2024Ms)
    out.quality = TimeQuality::unset;
  else
    out.quality = kernel_is_synced() ? TimeQuality::synced : TimeQuality::restored;
  return out;
}

WallTime VirtualWall::at(Instant now) {
  WallTime out;
  out.unix_ms = start_unix_ms_ + (now - start_).count();
  out.utc_offset_s = utc_offset_at(out.unix_ms);
  out.quality = TimeQuality::synced;
  return out;
}

bool set_time_zone(const std::string& name) {
  const bool plain = name.find("..") == std::string::npos && !name.starts_with('/');
  const bool known =
      name == "UTC" || (plain && ::access(("/usr/share/zoneinfo/" + name).c_str(), R_OK) == 0);
  ::setenv("TZ", known ? name.c_str() : "UTC", 1);
  ::tzset();
  return known;
}

std::int32_t utc_offset_at(std::int64_t unix_ms) {
  static std::int64_t known_quarter = INT64_MIN;
  static std::string known_zone;
  static std::int32_t known_offset = 0;
  const char* zone = std::getenv("TZ");
  const std::int64_t quarter = unix_ms / kQuarterMs;
  if (quarter == known_quarter && zone != nullptr && known_zone == zone) return known_offset;
  const auto seconds_since = static_cast<std::time_t>(unix_ms / 1000);
  std::tm local{};
  if (::localtime_r(&seconds_since, &local) == nullptr) return 0;
  known_quarter = quarter;
  known_zone = zone == nullptr ? "" : zone;
  known_offset = static_cast<std::int32_t>(local.tm_gmtoff);
  return known_offset;
}

std::optional<std::int64_t> unix_ms_of_local(const std::string& text) {
  std::tm local{};
  int used = 0;
  const int fields =
      std::sscanf(text.c_str(), "%4d-%2d-%2dT%2d:%2d%n", &local.tm_year, &local.tm_mon,
                  &local.tm_mday, &local.tm_hour, &local.tm_min, &used);
  if (fields != 5 || static_cast<std::size_t>(used) != text.size()) return std::nullopt;
  const std::tm asked = local;
  local.tm_year -= 1900;
  local.tm_mon -= 1;
  local.tm_isdst = -1;
  const std::time_t moment = ::mktime(&local);
  // mktime() turns the 31st of June into the 1st of July; a date that moved was none.
  const bool same = local.tm_year + 1900 == asked.tm_year && local.tm_mon + 1 == asked.tm_mon &&
                    local.tm_mday == asked.tm_mday;
  if (!same) return std::nullopt;
  return static_cast<std::int64_t>(moment) * 1000;
}

}  // namespace neap::shell
