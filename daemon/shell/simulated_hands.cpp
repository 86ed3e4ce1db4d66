#include "daemon/shell/simulated_hands.h"

#include <nlohmann/json.hpp>

#include "daemon/shell/files.h"
#include "daemon/shell/measurements.h"

namespace neap::shell {
namespace {

using nlohmann::json;

constexpr std::size_t kLongest = 1 << 20;

void tell(Daemon& daemon, const json& args, const std::string& id, const LogSink& log) {
  if (const TakenIn taken = take_in_measurements(daemon, args, id); !taken.error.empty())
    log(LogLevel::error, "hands: " + id + ": " + taken.error);
}

}  // namespace

std::string arm_hands(const std::string& path, Daemon& daemon, TimerQueue& timers, Instant start,
                      std::int64_t start_unix_ms, const LogSink& log) {
  const json list = json::parse(read_file(path, kLongest).value_or(""), nullptr, false);
  if (!list.is_array()) return path + " is no list of hand measurements";
  for (std::size_t i = 0; i < list.size(); ++i) {
    const json& one = list[i];
    const std::string id = "hands-" + std::to_string(i + 1);
    if (!one.is_object() || !one.contains("at") || !one["at"].is_string() || !one.contains("args"))
      return path + ": " + id + " has no time or no args";
    const auto unix_ms = unix_ms_of_local(one["at"].get<std::string>());
    if (!unix_ms) return path + ": " + id + ": " + one["at"].dump() + " is no local time";
    if (*unix_ms < start_unix_ms) continue;
    timers.at(start + Millis{*unix_ms - start_unix_ms},
              [&daemon, args = one["args"], id, log] { tell(daemon, args, id, log); });
  }
  return {};
}

}  // namespace neap::shell
