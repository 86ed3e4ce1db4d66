#include "daemon/client/spool.h"

#include <algorithm>
#include <filesystem>
#include <random>

#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/client/whole_file.h"
#include "daemon/client/zone.h"
#include "daemon/core/state_folder.h"
#include "daemon/words/words.h"

namespace neap::client {

using nlohmann::json;

std::string new_spool_id(std::int64_t now_unix_ms) {
  static constexpr char kDigits[] = "0123456789abcdef";
  std::random_device source;
  std::string tail;
  for (int i = 0; i < 12; ++i) tail += kDigits[source() % 16];
  return std::to_string(now_unix_ms) + "-" + tail;
}

std::int64_t past_moment(const Session& session, const std::string& text) {
  constexpr std::int64_t kMinute = 60'000;
  constexpr std::int32_t kNoon = 43'200;
  const std::int64_t now = session.around.now_unix_ms();
  const std::string zone = zone_in_force(session);
  const std::int32_t today = civil_at(zone, now).date;
  const auto date = read_date_time(text);
  const bool bare = date && !date->has_time;
  const CivilTime civil = bare ? CivilTime{date->civil.date, kNoon} : parse_moment(text, today);
  const std::int64_t moment = unix_of(zone, civil);
  if (bare && civil.date == today) return std::min(moment, now);
  if (moment <= now + kMinute) return moment;
  throw Failure(
      kExitUsage,
      "at is \"" + words::printable(text) + "\", which is " +
          words::duration(Millis{moment - now}) + " in the future",
      read_clock(text) ? "write at=yesterday " + text + " if that was meant" : "write when it was");
}

std::string spool_entry(const std::string& state_dir, const json& asked) {
  const std::filesystem::path folder = std::filesystem::path(state_dir) / state_folder::kSpool;
  const std::string name = asked.at("spool_id").get<std::string>() + ".json";
  const std::string path = (folder / name).string();
  constexpr mode_t kForTheGroup = 0660;  // the daemon is another user of the same group
  if (const std::string trouble = write_whole_file(path, asked.dump() + "\n", kForTheGroup);
      !trouble.empty())
    throw Failure(
        kExitNoDaemon,
        "no daemon runs, and what you told cannot wait in " + folder.string() + ": " + trouble,
        "start the daemon, make room, or ask to be put in the group neap");
  return path;
}

bool is_text(const std::string& typed) {
  try {
    (void)json(typed).dump();
    return true;
  } catch (const json::type_error&) {
    return false;
  }
}

bool hand_in(const Session& session, std::string_view verb, const json& asked, json& result) {
  for (const auto& [name, value] : asked.items())
    if (value.is_string() && !is_text(value.get<std::string>()))
      throw Failure(kExitUsage,
                    name + " is \"" + words::printable(value.get<std::string>()) +
                        "\", which is no UTF-8 text",
                    "set the terminal to UTF-8, or write it without accents and signs");
  try {
    result = session.ask(verb, asked);
    return true;
  } catch (const Failure& failure) {
    if (failure.code() != kExitNoDaemon) throw;
    result = {{"spooled", spool_entry(session.globals.state_dir, asked)}};
    return false;
  }
}

std::string kept_text(const json& result) {
  return wrapped("No daemon runs. Kept in " + result.at("spooled").get<std::string>() +
                     "; the daemon takes it in when it starts.",
                 kPageWidth, 2) +
         "\n";
}

}  // namespace neap::client
