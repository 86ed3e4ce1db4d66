// The control socket over a real socket: the loop runs on this thread, the peer is a plain client
// whose calls are made non-blocking between turns of the loop.
#include "daemon/shell/control.h"

#include <gtest/gtest.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <boost/asio/io_context.hpp>
#include <chrono>
#include <cstring>

#include "daemon/shell/frames.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {
namespace {

constexpr std::chrono::seconds kGenerous{20};

class Client {
 public:
  explicit Client(const std::string& path) : fd_(::socket(AF_UNIX, SOCK_STREAM, 0)) {
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    std::memcpy(address.sun_path, path.c_str(), path.size() + 1);
    connected_ = ::connect(fd_, reinterpret_cast<sockaddr*>(&address), sizeof address) == 0;
  }
  ~Client() { ::close(fd_); }
  Client(const Client&) = delete;
  Client& operator=(const Client&) = delete;
  bool connected() const { return connected_; }
  bool send(std::string_view bytes) const {
    return ::send(fd_, bytes.data(), bytes.size(), MSG_NOSIGNAL) ==
           static_cast<ssize_t>(bytes.size());
  }
  // Takes what is there. False once the daemon has closed the connection.
  bool poll() {
    char chunk[4096];
    const ssize_t got = ::recv(fd_, chunk, sizeof chunk, MSG_DONTWAIT);
    if (got > 0) received.append(chunk, static_cast<std::size_t>(got));
    return got > 0 || (got < 0 && errno == EAGAIN);
  }
  std::string received;

 private:
  int fd_;
  bool connected_ = false;
};

class ControlTest : public testing::Test {
 protected:
  ControlTest() { EXPECT_EQ(control.listen(path), ""); }
  // Turns the loop until `done`; the deadline only matters when the test fails.
  bool until(const std::function<bool()>& done) {
    const auto end = std::chrono::steady_clock::now() + kGenerous;
    while (!done()) {
      if (std::chrono::steady_clock::now() > end) return false;
      io.restart();
      io.run_one_for(std::chrono::milliseconds(10));
    }
    return true;
  }
  // Everything that is ready now: accepts, reads, answers.
  void settle() {
    io.restart();
    while (io.poll() > 0) io.restart();
  }
  // Virtual seconds pass for the socket's limits.
  void pass(Millis span) { run.run_for(span); }

  SimulatedRun run{demo_that_floods()};
  boost::asio::io_context io;
  Desk desk{run.daemon(), "settings.yaml"};
  Control control{io, run.timers(), desk, run.log().sink()};
  std::string path = run.dir() / "socket";
  const std::string ping = *make_frame(R"({"id":1,"verb":"ping"})");
};

TEST_F(ControlTest, TheSocketIsOpenToItsGroupAndNobodyElse) {
  struct stat status {};
  ASSERT_EQ(::stat(path.c_str(), &status), 0);
  EXPECT_EQ(status.st_mode & 07777, 0660u);
}

TEST_F(ControlTest, AFrameSentByteByByteIsAnswered) {
  Client client(path);
  for (const char byte : ping) {
    ASSERT_TRUE(client.send({&byte, 1}));
    settle();
  }
  EXPECT_TRUE(until([&] { return client.poll() && client.received.size() > 4; }));
  EXPECT_NE(client.received.find("\"ok\":true"), std::string::npos);
}

TEST_F(ControlTest, GarbageAndOversizeEndTheConnectionAndNothingElse) {
  Client steady(path);
  for (const std::string& bad :
       {std::string("\xff\xff\xff\xff hello"), *make_frame("not json"), std::string(4, '\0')}) {
    Client client(path);
    ASSERT_TRUE(client.send(bad));
    EXPECT_TRUE(until([&] { return !client.poll(); }));
  }
  ASSERT_TRUE(steady.send(ping));
  EXPECT_TRUE(until([&] { return steady.poll() && !steady.received.empty(); }));
}

TEST_F(ControlTest, AFrameThatIsNotWholeWithinTwoSecondsEndsTheConnectionHoweverItTrickles) {
  Client client(path);
  ASSERT_TRUE(client.send(ping.substr(0, 5)));
  settle();
  pass(Millis{1500});
  ASSERT_TRUE(client.send(ping.substr(5, 1)));
  settle();
  EXPECT_TRUE(client.poll());
  pass(Millis{600});
  EXPECT_TRUE(until([&] { return !client.poll(); }));
}

TEST_F(ControlTest, TenSecondsOfSilenceEndTheConnection) {
  Client client(path);
  ASSERT_TRUE(client.send(ping));
  ASSERT_TRUE(until([&] { return client.poll() && !client.received.empty(); }));
  pass(Millis{9900});
  settle();
  EXPECT_TRUE(client.poll());
  pass(Millis{200});
  EXPECT_TRUE(until([&] { return !client.poll(); }));
}

TEST_F(ControlTest, TheNinthClientIsTurnedAwayAndAPlaceThatFallsFreeIsGivenAgain) {
  std::vector<std::unique_ptr<Client>> clients;
  for (int i = 0; i < limits::kClients; ++i) {
    clients.push_back(std::make_unique<Client>(path));
    ASSERT_TRUE(clients.back()->send(ping));
    ASSERT_TRUE(until([&] { return clients.back()->poll() && !clients.back()->received.empty(); }));
  }
  Client ninth(path);
  EXPECT_TRUE(until([&] { return !ninth.poll(); }));
  clients.pop_back();
  EXPECT_TRUE(until([&] {
    Client another(path);
    another.send(ping);
    settle();
    another.poll();
    return !another.received.empty();
  }));
}

TEST_F(ControlTest, ASocketThatSomebodyServesIsNotTakenAndOneLeftBehindIs) {
  Control second(io, run.timers(), desk, run.log().sink());
  EXPECT_NE(second.listen(path), "");
  const std::string stale = run.dir() / "stale";
  {
    const int fd = ::socket(AF_UNIX, SOCK_STREAM, 0);
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    std::memcpy(address.sun_path, stale.c_str(), stale.size() + 1);
    ASSERT_EQ(::bind(fd, reinterpret_cast<sockaddr*>(&address), sizeof address), 0);
    ::close(fd);
  }
  EXPECT_EQ(second.listen(stale), "");
}

}  // namespace
}  // namespace neap::shell
