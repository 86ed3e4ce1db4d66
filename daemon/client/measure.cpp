// `neap measure`: hand measurements, to the daemon, or to its spool while it is down.
#include <filesystem>
#include <random>

#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/client/spool.h"
#include "daemon/client/verbs.h"
#include "daemon/client/whole_file.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::size_t kLongestNote = 256;  // bytes, as the daemon stores it

std::string new_spool_id(std::int64_t now_unix_ms) {
  static constexpr char kDigits[] = "0123456789abcdef";
  std::random_device source;
  std::string tail;
  for (int i = 0; i < 12; ++i) tail += kDigits[source() % 16];
  return std::to_string(now_unix_ms) + "-" + tail;
}

}  // namespace

std::string spool_measurement(const std::string& state_dir, const json& measurement) {
  const std::filesystem::path folder = std::filesystem::path(state_dir) / "spool";
  const std::string name = measurement.at("spool_id").get<std::string>() + ".json";
  const std::string path = (folder / name).string();
  constexpr mode_t kForTheGroup = 0660;  // the daemon is another user of the same group
  if (const std::string trouble = write_whole_file(path, measurement.dump() + "\n", kForTheGroup);
      !trouble.empty())
    throw Failure(
        kExitNoDaemon,
        "no daemon runs, and the measurement cannot wait in " + folder.string() + ": " + trouble,
        "start the daemon, make room, or ask to be put in the group neap");
  return path;
}

int do_measure(Session& session) {
  if (session.args.note.size() > kLongestNote)
    throw Failure(
        kExitUsage,
        "--note has " + std::to_string(session.args.note.size()) + " bytes, at most 256 are stored",
        "shorten it");
  json values = json::object();
  for (const Measure& each : parse_measures(session.args.words))
    values[std::string(each.key)] = each.value;
  const std::string id = new_spool_id(session.around.now_unix_ms);
  const json asked = {{"values", values},
                      {"note", session.args.note},
                      {"taken_unix_ms", session.around.now_unix_ms},
                      {"spool_id", id}};
  try {
    session.show(session.ask("measure", asked), "Noted.\n");
  } catch (const Failure& failure) {
    if (failure.code() != kExitNoDaemon) throw;
    const std::string path =
        spool_measurement(session.globals.state_dir, {{"spool_id", id},
                                                      {"taken_unix_ms", session.around.now_unix_ms},
                                                      {"values", values},
                                                      {"note", session.args.note}});
    session.show({{"spooled", path}},
                 "No daemon runs. Kept in " + path + "; the daemon takes it in when it starts.\n");
  }
  return kExitDone;
}

}  // namespace neap::client
