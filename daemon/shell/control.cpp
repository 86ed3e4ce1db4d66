#include "daemon/shell/control.h"

#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <boost/asio/io_context.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/write.hpp>
#include <cerrno>
#include <cstring>
#include <set>

#include "daemon/core/limits.h"
#include "daemon/shell/frames.h"

namespace neap::shell {

using Socket = boost::asio::local::stream_protocol::socket;
using Error = boost::system::error_code;

struct Control::Impl : std::enable_shared_from_this<Control::Impl> {
  class Connection;

  Impl(boost::asio::io_context& context, TimerQueue& queue, Desk& table, LogSink sink)
      : io(context), acceptor(context), timers(queue), desk(table), log(std::move(sink)) {}

  void accept();
  void welcome(Socket socket);

  boost::asio::io_context& io;
  boost::asio::local::stream_protocol::acceptor acceptor;
  TimerQueue& timers;
  Desk& desk;
  LogSink log;
  std::string path;
  std::set<std::shared_ptr<Connection>> connections;
};

// One peer. Lives while it is in the set; handlers under way keep it a little longer.
class Control::Impl::Connection : public std::enable_shared_from_this<Connection> {
 public:
  Connection(Impl& owner, Socket socket, Peer peer)
      : owner_(owner.weak_from_this()),
        timers_(owner.timers),
        desk_(owner.desk),
        socket_(std::move(socket)),
        peer_(peer) {}

  void start() {
    watch(limits::kClientIdle);
    read();
  }

  void close() {
    timers_.cancel(deadline_);
    Error ignored;
    socket_.close(ignored);
    if (const auto owner = owner_.lock()) owner->connections.erase(shared_from_this());
  }

 private:
  void watch(Millis wait) {
    timers_.cancel(deadline_);
    deadline_ = timers_.at(timers_.now() + wait, [weak = weak_from_this()] {
      if (const auto self = weak.lock()) self->close();
    });
  }

  void read() {
    socket_.async_read_some(boost::asio::buffer(chunk_),
                            [self = shared_from_this()](const Error& error, std::size_t count) {
                              if (error)
                                self->close();
                              else
                                self->took({self->chunk_.data(), count});
                            });
  }

  void took(std::string_view bytes) {
    if (!frames_.partial()) frame_began_ = timers_.now();
    frames_.feed(bytes);
    bool any_whole = false;
    while (const auto payload = frames_.next()) {
      any_whole = true;
      const auto send = [weak = weak_from_this()](const std::string& answer) {
        if (const auto self = weak.lock()) self->send(answer);
      };
      if (!desk_.handle(*payload, peer_, frame_began_, send)) return close();
      frame_began_ = timers_.now();
    }
    if (frames_.broken()) return close();
    // A frame's time runs from its first byte; more bytes of the same frame buy no more of it.
    if (!frames_.partial())
      watch(limits::kClientIdle);
    else if (any_whole || !in_frame_)
      watch(limits::kFrameWait);
    in_frame_ = frames_.partial();
    if (socket_.is_open()) read();
  }

  void send(const std::string& answer) {
    const std::optional<std::string> frame = make_frame(answer);
    if (!frame || unsent_.size() + frame->size() > limits::kUnreadBytes) return close();
    unsent_ += *frame;
    if (sending_.empty()) write();
  }

  void write() {
    sending_ = std::exchange(unsent_, {});
    boost::asio::async_write(socket_, boost::asio::buffer(sending_),
                             [self = shared_from_this()](const Error& error, std::size_t) {
                               self->sending_.clear();
                               if (error)
                                 self->close();
                               else if (!self->unsent_.empty())
                                 self->write();
                             });
  }

  std::weak_ptr<Impl> owner_;
  TimerQueue& timers_;
  Desk& desk_;
  Socket socket_;
  Peer peer_;
  FrameReader frames_;
  std::array<char, 4096> chunk_{};
  std::string unsent_;   // answers waiting for the write under way
  std::string sending_;  // owned by the write under way
  Instant frame_began_{};
  bool in_frame_ = false;
  TimerId deadline_ = 0;
};

void Control::Impl::accept() {
  acceptor.async_accept([self = shared_from_this()](const Error& error, Socket socket) {
    if (error == boost::asio::error::operation_aborted || !self->acceptor.is_open()) return;
    if (!error) self->welcome(std::move(socket));
    self->accept();
  });
}

void Control::Impl::welcome(Socket socket) {
  ucred credentials{};
  socklen_t size = sizeof credentials;
  const bool known =
      ::getsockopt(socket.native_handle(), SOL_SOCKET, SO_PEERCRED, &credentials, &size) == 0;
  // Too many, or a peer that the kernel cannot name: the socket closes as it leaves this scope.
  if (!known || connections.size() >= limits::kClients) {
    log(LogLevel::warning, known ? "control: turned a client away, all places are taken"
                                 : "control: turned away a client without credentials");
    return;
  }
  const Peer peer{credentials.uid, credentials.pid, role_of(credentials.uid, credentials.gid)};
  const auto connection = std::make_shared<Connection>(*this, std::move(socket), peer);
  connections.insert(connection);
  connection->start();
}

Control::Control(boost::asio::io_context& io, TimerQueue& timers, Desk& desk, LogSink log)
    : impl_(std::make_shared<Impl>(io, timers, desk, std::move(log))) {}

Control::~Control() { close(); }

std::string Control::listen(const std::string& path) {
  sockaddr_un probe{};
  if (path.empty() || path.size() >= sizeof probe.sun_path)
    return "socket path " + path + " is empty or longer than 107 bytes";
  const boost::asio::local::stream_protocol::endpoint endpoint(path);
  Error error;
  {
    Socket other(impl_->io);
    other.connect(endpoint, error);
    if (!error) return path + " is served by another neapd";
  }
  ::unlink(path.c_str());
  impl_->acceptor.open(endpoint.protocol(), error);
  const mode_t before = ::umask(0117);  // never wider than 0660, not even for a moment
  if (!error) impl_->acceptor.bind(endpoint, error);
  ::umask(before);
  if (!error) impl_->acceptor.listen(limits::kClients, error);
  if (error) return path + ": " + error.message();
  impl_->path = path;
  impl_->accept();
  return {};
}

void Control::close() {
  if (impl_->path.empty()) return;
  Error ignored;
  impl_->acceptor.close(ignored);
  for (const auto& connection : std::exchange(impl_->connections, {})) connection->close();
  ::unlink(impl_->path.c_str());
  impl_->path.clear();
}

}  // namespace neap::shell
