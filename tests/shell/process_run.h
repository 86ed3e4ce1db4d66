// The real neapd as a process of its own, with the pump's line as a file of the test: started,
// asked, killed. Shared by the stories that need a whole program.
#pragma once

#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstring>
#include <fstream>
#include <thread>

#include "daemon/shell/frames.h"
#include "tests/places.h"
#include "tests/shell/simulated_run.h"

namespace neap::shell {

inline constexpr std::chrono::seconds kGenerous{30};

inline bool eventually(const std::function<bool()>& done) {
  const auto end = std::chrono::steady_clock::now() + kGenerous;
  while (!done()) {
    if (std::chrono::steady_clock::now() > end) return false;
    std::this_thread::yield();
  }
  return true;
}

class ProcessTest : public testing::Test {
 protected:
  ProcessTest() {
    settings_text = demo_that_floods();
    const std::string simulated = "  pump:\n    driver: simulated\n";
    const std::size_t at = settings_text.find(simulated);
    EXPECT_NE(at, std::string::npos);
    settings_text.replace(
        at, simulated.size(),
        "  pump:\n    driver: level_file\n    with: {path: " + (dir / "pump") + "}\n");
    const std::string path = "  drain_path: through_pump\n";
    settings_text.insert(settings_text.find(path), "  water_proven: by_hand\n");
    write("settings.yaml", settings_text);
    write("pump", "0");
    EXPECT_EQ(::mkdir((dir / "state").c_str(), 0750), 0);
  }
  ~ProcessTest() override {
    if (pid > 0) {
      ::kill(pid, SIGKILL);
      ::waitpid(pid, nullptr, 0);
    }
  }
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(dir / name, std::ios::trunc) << text;
  }
  std::string pump() const {
    std::string text = read_file(dir / "pump", 64).value_or("?");
    return text.substr(0, text.find('\n'));
  }
  // `before` runs in the child, and ends it when it fails.
  static int run_program(
      const std::vector<std::string>& words, bool wait, pid_t& child,
      const std::function<bool()>& before = [] { return true; }) {
    std::vector<char*> argv;
    for (const std::string& word : words) argv.push_back(const_cast<char*>(word.c_str()));
    argv.push_back(nullptr);
    child = ::fork();
    if (child == 0) {
      const int quiet = ::open("/dev/null", O_RDWR);
      ::dup2(quiet, 2);
      if (!before()) ::_exit(126);
      ::execv(argv[0], argv.data());
      ::_exit(127);
    }
    return wait ? wait_for(child) : 0;
  }
  static int wait_for(pid_t child) {
    int status = 0;
    ::waitpid(child, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
  }
  void start(const std::function<bool()>& before = [] { return true; }) {
    run_program({places::in_build("neapd"), "--settings", dir / "settings.yaml", "--state-dir",
                 dir / "state", "--journal", dir / "state/journal.db", "--socket", dir / "socket"},
                false, pid, before);
  }
  // One request on a connection of its own; empty while the daemon is not there.
  std::string ask(const std::string& request) const {
    const int fd = ::socket(AF_UNIX, SOCK_STREAM, 0);
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    const std::string path = dir / "socket";
    std::memcpy(address.sun_path, path.c_str(), path.size() + 1);
    std::string answer;
    if (::connect(fd, reinterpret_cast<sockaddr*>(&address), sizeof address) == 0) {
      const std::string frame = *make_frame(request);
      ::send(fd, frame.data(), frame.size(), MSG_NOSIGNAL);
      char head[4];
      if (::recv(fd, head, sizeof head, MSG_WAITALL) == 4) {
        const std::size_t length =
            static_cast<unsigned char>(head[2]) * 256u + static_cast<unsigned char>(head[3]);
        answer.resize(length);
        ::recv(fd, answer.data(), length, MSG_WAITALL);
      }
    }
    ::close(fd);
    return answer;
  }
  // What the daemon says of itself once it answers.
  std::string status() const {
    std::string text;
    EXPECT_TRUE(eventually([&] {
      text = ask(R"({"id":1,"verb":"status"})");
      return text.find("\"tick\"") != std::string::npos;
    }));
    return text;
  }
  void expect_safe_mode_that_names_the_disk() {
    EXPECT_TRUE(eventually([&] { return pump() == "0"; }));
    std::string now;
    EXPECT_TRUE(eventually([&] {  // the alarm comes with the first scan
      now = status();
      return now.find("state-unsaved") != std::string::npos;
    })) << now;
    EXPECT_NE(now.find("\"safe_mode\":true"), std::string::npos) << now;
    const std::string refused = ask(R"({"id":7,"verb":"flood","args":{"action":"start"}})");
    EXPECT_EQ(refused.find("\"ok\":true"), std::string::npos) << refused;
    EXPECT_EQ(pump(), "0");
    EXPECT_EQ(::waitpid(pid, nullptr, WNOHANG), 0) << "it has left";
  }
  bool flood_runs() {
    return eventually([&, id = 0]() mutable {
      ask(R"({"id":)" + std::to_string(++id) + R"(,"verb":"flood","args":{"action":"start"}})");
      return pump() == "1";
    });
  }

  TempDir dir;
  std::string settings_text;
  pid_t pid = 0;
};

}  // namespace neap::shell
