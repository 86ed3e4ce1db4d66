// The kernel's watchdog is petted by whatever supervises neapd, with each WATCHDOG=1 that neapd
// tells; here the trial is that supervisor. A daemon that stands still tells nothing, and the
// machine restarts: the run script looks for that in the kernel's own words.
#include <fcntl.h>
#include <linux/watchdog.h>
#include <poll.h>
#include <signal.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "board.h"
#include "daemon.h"
#include "trial.h"

namespace hardware {
namespace {

constexpr const char* kSocket = "/run/notify";
constexpr int kTimeoutS = 5;
constexpr double kAliveMs = 12'000;  // more than twice the timeout
constexpr double kPatienceMs = 30'000;

// Passes on what neapd tells for so long; how often.
int supervise(int notify, int dog, double for_ms) {
  int petted = 0;
  const double end = now_ms() + for_ms;
  while (now_ms() < end) {
    pollfd waits{notify, POLLIN, 0};
    if (::poll(&waits, 1, 100) <= 0) continue;
    if (!tells_alive(notify)) continue;
    ::ioctl(dog, WDIOC_KEEPALIVE, 0);
    ++petted;
  }
  return petted;
}

}  // namespace

void watchdog() {
  const int notify = open_notify_socket(kSocket);
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
