#include "daemon/client/zone.h"

#include <array>
#include <cstdlib>
#include <ctime>

#include "daemon/words/words.h"

namespace neap::client {

CivilTime civil_at(const std::string& zone, std::int64_t unix_ms) {
  ::setenv("TZ", zone.empty() ? "UTC" : zone.c_str(), 1);
  ::tzset();
  const auto seconds = static_cast<std::time_t>(unix_ms / 1000);
  std::tm local{};
  ::localtime_r(&seconds, &local);
  return civil_of({unix_ms, static_cast<std::int32_t>(local.tm_gmtoff), TimeQuality::synced});
}

std::string weekday_date(std::int32_t date) {
  static constexpr std::array kNames{"Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed"};
  const std::int32_t day = (date % 7 + 7) % 7;  // 1970-01-01 was a Thursday
  return std::string(kNames[static_cast<std::size_t>(day)]) + " " + words::civil_date(date);
}

}  // namespace neap::client
