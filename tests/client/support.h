// What the client's tests share: a run of neap with its own streams, a directory, and a daemon that
// answers one request after another over a real socket.
#pragma once

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <functional>
#include <future>
#include <map>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

#include "daemon/client/cli.h"
#include "daemon/client/failure.h"
#include "daemon/client/frame.h"
#include "daemon/client/look.h"

namespace neap::client::testing {

using nlohmann::json;

class Directory {
 public:
  Directory() {
    std::string pattern = (std::filesystem::temp_directory_path() / "neap-client-XXXXXX").string();
    path_ = ::mkdtemp(pattern.data());
  }
  ~Directory() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Directory(const Directory&) = delete;
  Directory& operator=(const Directory&) = delete;
  std::string file(const std::string& name) const { return (path_ / name).string(); }
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

struct Said {
  int code = 0;
  std::string out;
  std::string err;
};

constexpr std::int64_t kNoonUnixMs = 1780315200000;  // 2026-06-01 12:00:00 UTC

// One run of neap, as typed.
inline Said neap(
    const std::vector<std::string>& words, const std::map<std::string, std::string>& variables = {},
    bool terminal = false, const std::string& typed = {},
    const std::function<std::int64_t()>& clock = [] { return kNoonUnixMs; }) {
  std::istringstream in(typed);
  std::ostringstream out;
  std::ostringstream err;
  const Surroundings around{out,
                            err,
                            terminal,
                            false,
                            [&variables](const char* name) -> std::optional<std::string> {
                              const auto found = variables.find(name);
                              if (found == variables.end()) return std::nullopt;
                              return found->second;
                            },
                            clock,
                            "/nowhere/neap",
                            in};
  const int code = run(words, around);
  return {code, out.str(), err.str()};
}

// Listens in a directory of its own and answers `connections` requests with what `answer` makes.
// The bytes it returns are sent as they are: frame() makes a proper one.
class FakeDaemon {
 public:
  using Answer = std::function<std::string(const json& request)>;
  explicit FakeDaemon(Answer answer, int connections = 1) : answer_(std::move(answer)) {
    listener_ = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    std::strncpy(address.sun_path, path().c_str(), sizeof address.sun_path - 1);
    EXPECT_EQ(::bind(listener_, reinterpret_cast<sockaddr*>(&address), sizeof address), 0);
    EXPECT_EQ(::listen(listener_, 4), 0);
    thread_ = std::thread([this, connections] {
      for (int i = 0; i < connections; ++i) serve();
    });
  }
  ~FakeDaemon() {
    ::shutdown(listener_, SHUT_RDWR);  // ends an accept() that nobody came for
    thread_.join();
    ::close(listener_);
  }
  FakeDaemon(const FakeDaemon&) = delete;
  FakeDaemon& operator=(const FakeDaemon&) = delete;

  std::string path() const { return directory_.file("s"); }

  static std::string frame(const json& value) { return frame_of(value.dump()).value(); }
  static std::string success(const json& request, const json& result) {
    return frame({{"id", request["id"]}, {"ok", true}, {"result", result}});
  }
  static std::string refusal(const json& request, const json& error) {
    return frame({{"id", request["id"]}, {"ok", false}, {"error", error}});
  }

 private:
  void serve() {
    const int peer = ::accept4(listener_, nullptr, nullptr, SOCK_CLOEXEC);
    if (peer < 0) return;
    std::string bytes;
    char chunk[4096];
    while (true) {
      if (bytes.size() >= kFrameHeader) {
        const auto length = payload_length(bytes.substr(0, kFrameHeader));
        if (!length || bytes.size() >= kFrameHeader + *length) break;
      }
      const ssize_t got = ::recv(peer, chunk, sizeof chunk, 0);
      if (got <= 0) break;
      bytes.append(chunk, static_cast<std::size_t>(got));
    }
    const json request =
        json::parse(bytes.substr(std::min(bytes.size(), kFrameHeader)), nullptr, false);
    const std::string answer = answer_(request);
    for (std::size_t sent = 0; sent < answer.size();) {
      // In small pieces: a client must put a frame together from whatever comes.
      const ssize_t put = ::send(peer, answer.data() + sent,
                                 std::min<std::size_t>(7, answer.size() - sent), MSG_NOSIGNAL);
      if (put <= 0) break;
      sent += static_cast<std::size_t>(put);
    }
    ::close(peer);
  }

  Directory directory_;
  Answer answer_;
  int listener_ = -1;
  std::thread thread_;
};

inline std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

inline std::size_t widest(const std::string& text) {
  std::size_t most = 0;
  for (const std::string& line : lines_of(text)) most = std::max(most, columns(line));
  return most;
}

}  // namespace neap::client::testing
