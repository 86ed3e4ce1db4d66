// Goal: one question, one answer over a real socket, whatever the other side does. Method: a fake
// daemon in a thread.
#include "daemon/client/socket.h"

#include "daemon/core/limits.h"
#include "tests/client/support.h"

namespace neap::client {
namespace {

using testing::FakeDaemon;
using ::testing::HasSubstr;
using testing::json;

Failure failure_of(const std::string& path, const json& args = json::object(),
                   Millis patience = seconds{20}) {
  try {
    const json result = ask_daemon(path, "status", args, patience);
    ADD_FAILURE() << "an answer: " << result.dump();
  } catch (const Failure& failure) {
    return failure;
  }
  return {kExitDone, "", ""};
}

TEST(Frame, HasItsLengthBigEndian) {
  const std::string frame = frame_of(std::string(0x102, 'x')).value();
  EXPECT_EQ(frame.substr(0, 4), std::string("\0\0\x01\x02", 4));
  EXPECT_EQ(payload_length(frame.substr(0, 4)), 0x102u);
}

TEST(Frame, OfALengthThatTheProtocolForbidsIsNone) {
  EXPECT_FALSE(frame_of(""));
  EXPECT_TRUE(frame_of(std::string(limits::kFrameBytes, 'x')));
  EXPECT_FALSE(frame_of(std::string(limits::kFrameBytes + 1, 'x')));
  EXPECT_FALSE(payload_length(std::string("\0\0\0\0", 4)));
  EXPECT_EQ(payload_length(std::string("\0\0\x40\0", 4)), 16384u);
  EXPECT_FALSE(payload_length(std::string("\0\0\x40\x01", 4)));
  EXPECT_FALSE(payload_length(std::string("\xff\xff\xff\xff", 4)));
  EXPECT_FALSE(payload_length("abc"));
}

TEST(Socket, TheRequestIsWhatTheProtocolAsksAndTheResultComesBack) {
  json seen;
  FakeDaemon daemon([&](const json& request) {
    seen = request;
    return FakeDaemon::success(request, {{"output", "pump"}, {"note", std::string(9000, 'n')}});
  });
  const json result = ask_daemon(daemon.path(), "why", {{"output", "pump"}});
  EXPECT_EQ(result["output"], "pump");
  EXPECT_EQ(result["note"].get<std::string>().size(), 9000u);
  EXPECT_EQ(seen["verb"], "why");
  EXPECT_EQ(seen["args"], (json{{"output", "pump"}}));
  EXPECT_GE(seen["id"].get<std::int64_t>(), 1);
}

TEST(Socket, ARefusalCarriesItsRemedyAndItsProblems) {
  FakeDaemon daemon([](const json& request) {
    return FakeDaemon::refusal(request, {{"code", "refused"},
                                         {"message", "leak \x1b[1mwet"},
                                         {"remedy", "dry the probe"},
                                         {"problems", json::array({1})}});
  });
  const Failure failure = failure_of(daemon.path());
  EXPECT_EQ(failure.code(), kExitRefused);
  EXPECT_STREQ(failure.what(), "leak \\x1b[1mwet");
  EXPECT_EQ(failure.remedy(), "dry the probe");
  EXPECT_EQ(failure.more()["problems"].size(), 1u);
}

TEST(Socket, WithoutADaemonTheFailureSaysSo) {
  testing::Directory directory;
  const Failure failure = failure_of(directory.file("none"));
  EXPECT_EQ(failure.code(), kExitNoDaemon);
  EXPECT_THAT(failure.what(), HasSubstr("no daemon at " + directory.file("none")));
}

TEST(Socket, APathThatNoSocketCanHaveIsAUsageError) {
  EXPECT_EQ(failure_of("/" + std::string(200, 'x')).code(), kExitUsage);
}

TEST(Socket, ADaemonThatGoesAwayIsNoDaemon) {
  FakeDaemon daemon([](const json&) { return std::string("\0\0", 2); });
  EXPECT_EQ(failure_of(daemon.path()).code(), kExitNoDaemon);
}

TEST(Socket, NonsenseIsNoAnswer) {
  const std::vector<std::function<std::string(const json&)>> answers{
      [](const json&) { return frame_of("no json").value(); },
      [](const json&) { return frame_of("[1]").value(); },
      [](const json&) { return std::string("\x7f\0\0\0", 4); },
      [](const json&) {
        return FakeDaemon::frame({{"id", "x"}, {"ok", true}});
      },
      [](const json& request) {
        return FakeDaemon::frame({{"id", request["id"]}});
      },
      [](const json& request) {
        return FakeDaemon::success({{"id", request["id"].get<int>() - 1}}, json::object());
      }};
  for (const auto& answer : answers) {
    FakeDaemon daemon(answer);
    EXPECT_EQ(failure_of(daemon.path()).code(), kExitFailed);
  }
}

TEST(Socket, SilenceEnds) {
  std::promise<void> done;
  FakeDaemon daemon([waits = done.get_future().share()](const json&) {
    waits.wait();
    return std::string();
  });
  const Failure failure = failure_of(daemon.path(), json::object(), Millis{50});
  done.set_value();
  EXPECT_EQ(failure.code(), kExitFailed);
  EXPECT_STREQ(failure.what(), "the daemon did not answer in time");
}

TEST(Socket, AFullQueueHoldsNobody) {
  testing::Directory directory;
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  const std::string path = directory.file("s");
  std::strncpy(address.sun_path, path.c_str(), sizeof address.sun_path - 1);
  const int listener = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
  ASSERT_EQ(::bind(listener, reinterpret_cast<sockaddr*>(&address), sizeof address), 0);
  ASSERT_EQ(::listen(listener, 0), 0);
  for (int i = 0; i < 4; ++i)  // nobody is taken from the queue
    EXPECT_STREQ(failure_of(path, json::object(), Millis{50}).what(),
                 "the daemon did not answer in time");
  ::close(listener);
}

TEST(Socket, ARequestLongerThanAFrameIsRefusedHere) {
  testing::Directory directory;
  const Failure failure =
      failure_of(directory.file("none"), {{"note", std::string(limits::kFrameBytes, 'x')}});
  EXPECT_EQ(failure.code(), kExitUsage);
}

}  // namespace
}  // namespace neap::client
