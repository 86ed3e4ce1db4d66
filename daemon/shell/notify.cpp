#include "daemon/shell/notify.h"

#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <cstddef>
#include <cstdlib>
#include <cstring>

namespace neap::shell {

Notifier::Notifier() {
  const char* address = std::getenv("NOTIFY_SOCKET");
  if (address != nullptr) address_ = address;
}

void Notifier::tell(std::string_view state) const {
  sockaddr_un peer{};
  if (address_.empty() || address_.size() >= sizeof peer.sun_path) return;
  peer.sun_family = AF_UNIX;
  std::memcpy(peer.sun_path, address_.data(), address_.size());
  if (address_.front() == '@') peer.sun_path[0] = '\0';  // abstract address, as systemd writes it
  const int fd = ::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
  if (fd < 0) return;
  const auto length = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + address_.size());
  ::sendto(fd, state.data(), state.size(), MSG_NOSIGNAL, reinterpret_cast<const sockaddr*>(&peer),
           length);
  ::close(fd);
}

}  // namespace neap::shell
