#include "daemon/client/socket.h"

#include <poll.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/un.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <cstring>
#include <random>

#include "daemon/client/descriptor.h"
#include "daemon/client/failure.h"
#include "daemon/client/frame.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;
using Steady = std::chrono::steady_clock;

constexpr std::string_view kStartIt =
    "start neapd, or give --socket; plan, events, readings and report work "
    "without it";

[[noreturn]] void no_daemon(const std::string& path, int error) {
  throw Failure(kExitNoDaemon, "no daemon at " + path + ": " + std::strerror(error),
                std::string(kStartIt));
}

[[noreturn]] void no_answer() {
  throw Failure(kExitFailed, "the daemon did not answer in time",
                "try again; if it persists look into its log");
}

Descriptor connect_to(const std::string& path, Millis patience) {
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  if (path.size() >= sizeof address.sun_path)
    throw Failure(kExitUsage,
                  "--socket is a path of " + std::to_string(path.size()) + " bytes, at most " +
                      std::to_string(sizeof address.sun_path - 1) + " are possible",
                  "use a shorter path");
  std::memcpy(address.sun_path, path.c_str(), path.size() + 1);
  Descriptor fd(::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0));
  if (!fd) throw Failure(kExitFailed, std::string("no socket: ") + std::strerror(errno), "");
  // A daemon that stands still takes nobody from its queue, and a full queue holds a caller.
  const timeval most{patience.count() / 1000, patience.count() % 1000 * 1000};
  ::setsockopt(fd.number(), SOL_SOCKET, SO_SNDTIMEO, &most, sizeof most);
  if (::connect(fd.number(), reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0)
    return fd;
  if (errno == EAGAIN) no_answer();
  if (errno == EACCES)
    throw Failure(kExitRefused, "the socket " + path + " may not be used by this user",
                  "ask to be put in the group neap-view, neap or neap-admin");
  no_daemon(path, errno);
}

// Waits until `fd` can be read; a daemon that stays silent is a failure.
void wait_readable(const Descriptor& fd, Steady::time_point until) {
  while (true) {
    const auto left =
        std::chrono::duration_cast<std::chrono::milliseconds>(until - Steady::now()).count();
    pollfd item{fd.number(), POLLIN, 0};
    const int ready = ::poll(&item, 1, left > 0 ? static_cast<int>(left) : 0);
    if (ready > 0) return;
    if (ready < 0 && errno == EINTR) continue;
    no_answer();
  }
}

std::string read_exactly(const Descriptor& fd, std::size_t count, Steady::time_point until) {
  std::string bytes(count, '\0');
  std::size_t have = 0;
  while (have < count) {
    wait_readable(fd, until);
    const ssize_t got = ::recv(fd.number(), bytes.data() + have, count - have, 0);
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0)
      throw Failure(kExitNoDaemon, "the daemon ended the connection without an answer",
                    "look into its log");
    have += static_cast<std::size_t>(got);
  }
  return bytes;
}

void send_all(const Descriptor& fd, std::string_view bytes, const std::string& path) {
  while (!bytes.empty()) {
    const ssize_t put = ::send(fd.number(), bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (put < 0 && errno == EINTR) continue;
    if (put <= 0) no_daemon(path, errno);
    bytes.remove_prefix(static_cast<std::size_t>(put));
  }
}

// A number that no other request of this user had in the last minute: a repeated one would get the
// earlier answer.
std::int32_t new_id() {
  std::random_device source;
  return std::uniform_int_distribution<std::int32_t>(1, 2'147'483'647)(source);
}

std::string text_of(const json& object, const char* key) {
  const auto found = object.find(key);
  return found != object.end() && found->is_string() ? words::printable(found->get<std::string>())
                                                     : std::string();
}

}  // namespace

json ask_daemon(const std::string& socket_path, std::string_view verb, const json& args,
                Millis patience) {
  const std::int32_t id = new_id();
  const std::string request = json{{"id", id}, {"verb", verb}, {"args", args}}.dump(
      -1, ' ', false, json::error_handler_t::replace);
  const auto frame = frame_of(request);
  if (!frame)
    throw Failure(kExitUsage,
                  "the request has " + std::to_string(request.size()) +
                      " bytes, more than the protocol carries",
                  "shorten its text");
  const Descriptor fd = connect_to(socket_path, patience);
  send_all(fd, *frame, socket_path);
  const auto until = Steady::now() + patience;
  const auto length = payload_length(read_exactly(fd, kFrameHeader, until));
  const json answer =
      length ? json::parse(read_exactly(fd, *length, until), nullptr, false) : json();
  if (!answer.is_object() || answer.value("id", json()) != id || !answer.contains("ok"))
    throw Failure(kExitFailed, "what answers at " + socket_path + " is no neapd of this version",
                  "see `neap version` and `neapd --version`");
  if (answer["ok"] == true) return answer.value("result", json::object());
  const json error = answer.value("error", json::object());
  throw Failure(kExitRefused, text_of(error, "message"), text_of(error, "remedy"), error);
}

}  // namespace neap::client
