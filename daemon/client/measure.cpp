// `neap measure`: hand measurements, to the daemon, or to its spool while it is down.
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <random>

#include "daemon/client/descriptor.h"
#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/client/spool.h"
#include "daemon/client/verbs.h"
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

void write_all(const Descriptor& fd, std::string_view text, const std::string& path) {
  while (!text.empty()) {
    const ssize_t put = ::write(fd.number(), text.data(), text.size());
    if (put < 0 && errno == EINTR) continue;
    if (put <= 0)
      throw Failure(kExitFailed, "cannot write " + path + ": " + std::strerror(errno),
                    "make room, then measure again");
    text.remove_prefix(static_cast<std::size_t>(put));
  }
}

}  // namespace

std::string spool_measurement(const std::string& state_dir, const json& measurement) {
  const std::filesystem::path folder = std::filesystem::path(state_dir) / "spool";
  const std::string name = measurement.at("spool_id").get<std::string>() + ".json";
  const std::string path = (folder / name).string();
  const std::string beside = (folder / ("." + name + ".new")).string();
  {
    const Descriptor fd(
        ::open(beside.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0660));
    if (!fd)
      throw Failure(kExitNoDaemon,
                    "no daemon runs, and the measurement cannot wait in " + folder.string() + ": " +
                        std::strerror(errno),
                    "start the daemon, or ask to be put in the group neap");
    ::fchmod(fd.number(), 0660);  // the daemon is another user of the same group
    write_all(fd, measurement.dump() + "\n", beside);
    if (::fsync(fd.number()) != 0)
      throw Failure(kExitFailed, "cannot write " + beside + ": " + std::strerror(errno), "");
  }
  if (::rename(beside.c_str(), path.c_str()) != 0)
    throw Failure(kExitFailed, "cannot write " + path + ": " + std::strerror(errno), "");
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
