// The control socket: a Unix stream socket that takes frames (frames.h), knows its peers by
// SO_PEERCRED and hands their requests to the desk. At most limits::kClients at a time; a frame
// must be whole within limits::kFrameWait, silence ends a connection after limits::kClientIdle, and
// a peer that does not read its answers is dropped at limits::kUnreadBytes.
#pragma once

#include <memory>
#include <string>

#include "daemon/shell/desk.h"

namespace boost::asio {
class io_context;
}

namespace neap::shell {

class Control {
 public:
  Control(boost::asio::io_context& io, TimerQueue& timers, Desk& desk, LogSink log);
  ~Control();

  // Binds and listens at `path`, mode 0660. An error text, or empty. A socket file left behind is
  // replaced; one that somebody serves is not.
  std::string listen(const std::string& path);
  // Ends all connections and removes the socket.
  void close();

 private:
  struct Impl;
  std::shared_ptr<Impl> impl_;
};

// By group of the peer's user: neap-admin (and root), neap, neap-view. Where none of these groups
// exists, root and the daemon's own user may do all, and others nothing.
Role role_of(std::uint32_t uid, std::uint32_t gid);

}  // namespace neap::shell
