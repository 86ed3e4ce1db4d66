#include "daemon/client/zone.h"

#include <array>
#include <cstdlib>
#include <ctime>

#include "daemon/client/failure.h"
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

std::int64_t unix_of(const std::string& zone, CivilTime civil) {
  const std::int64_t local_ms =
      (static_cast<std::int64_t>(civil.date) * kSecondsPerDay + civil.second_of_day) * 1000;
  std::int64_t unix_ms = local_ms;
  for (int round = 0; round < 2; ++round) {  // the second with the offset of nearly that moment
    const CivilTime there = civil_at(zone, unix_ms);
    const std::int64_t seen_ms =
        (static_cast<std::int64_t>(there.date) * kSecondsPerDay + there.second_of_day) * 1000;
    unix_ms += local_ms - seen_ms;
  }
  return unix_ms;
}

std::string zone_in_force(const Session& session) {
  try {
    return load_or_fail(session.globals.settings).plan.time_zone;
  } catch (const Failure&) {
    std::string error;
    if (const auto reader = journal::Reader::open(session.globals.journal, error))
      if (const auto last = settings::load_text(reader->settings_in_force()); last.loaded)
        return last.loaded->plan.time_zone;
  }
  return session.around.variable("TZ").value_or(":/etc/localtime");
}

std::string clock_of(const Session& session, std::int64_t unix_ms) {
  return words::clock_time(civil_at(zone_in_force(session), unix_ms).second_of_day);
}

std::string weekday_date(std::int32_t date) {
  static constexpr std::array kNames{"Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed"};
  const std::int32_t day = (date % 7 + 7) % 7;  // 1970-01-01 was a Thursday
  return std::string(kNames[static_cast<std::size_t>(day)]) + " " + words::civil_date(date);
}

}  // namespace neap::client
