// The kernel's watchdog is petted by whatever supervises neapd, with each WATCHDOG=1 that neapd
// tells; here the trial is that supervisor. A daemon that stands still tells nothing, and the
// machine restarts: the run script looks for that in the kernel's own words.
#include <fcntl.h>
#include <linux/watchdog.h>
#include <poll.h>
#include <signal.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <string_view>

#include "board.h"
#include "daemon.h"
#include "trial.h"

namespace hardware {
namespace {

constexpr const char* kSocket = "/run/notify";
constexpr int kTimeoutS = 5;
constexpr double kAliveMs = 12'000;  // more than twice the timeout
constexpr double kPatienceMs = 30'000;

int open_notify_socket() {
  const int socket = ::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  std::string_view(kSocket).copy(address.sun_path, sizeof address.sun_path - 1);
  ::bind(socket, reinterpret_cast<sockaddr*>(&address), sizeof address);
  return socket;
}

// Passes on what neapd tells for so long; how often.
int supervise(int notify, int dog, double for_ms) {
  int petted = 0;
  const double end = now_ms() + for_ms;
  while (now_ms() < end) {
    pollfd waits{notify, POLLIN, 0};
    if (::poll(&waits, 1, 100) <= 0) continue;
    char text[256];
    const ssize_t got = ::recv(notify, text, sizeof text, 0);
    if (got <= 0) continue;
    if (std::string_view(text, static_cast<std::size_t>(got)).find("WATCHDOG=1") ==
        std::string_view::npos)
      continue;
    ::ioctl(dog, WDIOC_KEEPALIVE, 0);
    ++petted;
  }
  return petted;
}

}  // namespace

void watchdog() {
  const int notify = open_notify_socket();
  Chip relays("relays", {"PUMP"});
  Chip floats("floats", {"TRAY", "RESERVOIR", "LEAK"});
  Daemon daemon("/run/watched", settings("relays", "floats"));
  daemon.start(kSocket);
  check(daemon.wait_until_it_answers(), "a daemon under a watchdog starts");
  const int dog = ::open("/dev/watchdog0", O_WRONLY | O_CLOEXEC);
  int timeout = kTimeoutS;
  check(dog >= 0 && ::ioctl(dog, WDIOC_SETTIMEOUT, &timeout) == 0 && timeout == kTimeoutS,
        "the kernel's watchdog is armed with 5 s");
  const int petted = supervise(notify, dog, kAliveMs);
  check(petted >= 8, "scans feed it: the machine lives for more than two timeouts");
  daemon.send(SIGSTOP);
  figure("watchdog: the daemon stands still now; the machine must restart");
  supervise(notify, dog, kPatienceMs);
}

}  // namespace hardware
