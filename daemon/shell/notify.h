// What the service manager is told, by sd_notify's protocol: one datagram to $NOTIFY_SOCKET.
// Nothing happens where there is no service manager.
#pragma once

#include <string>
#include <string_view>

namespace neap::shell {

class Notifier {
 public:
  // Takes the address from the environment once, at start.
  Notifier();
  bool managed() const { return !address_.empty(); }
  // "READY=1", "WATCHDOG=1", "STOPPING=1", "STATUS=...". Never blocks; a lost one is lost.
  void tell(std::string_view state) const;

 private:
  std::string address_;
};

}  // namespace neap::shell
