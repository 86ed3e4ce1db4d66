#include "daemon.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstring>
#include <vector>

#include "board.h"

namespace hardware {
namespace {

constexpr int kAnswerSeconds = 10;
constexpr std::size_t kLastWords = 4000;

std::string newest_log;  // of the daemon that was started last

pid_t spawn(const std::vector<std::string>& words, const std::string& output,
            const std::string& notify) {
  std::vector<char*> argv;
  for (const std::string& word : words) argv.push_back(const_cast<char*>(word.c_str()));
  argv.push_back(nullptr);
  const pid_t child = ::fork();
  if (child != 0) return child;
  const int to = ::open(output.c_str(), O_WRONLY | O_CREAT | O_APPEND, 0644);
  ::dup2(to, 1);
  ::dup2(to, 2);
  if (!notify.empty()) ::setenv("NOTIFY_SOCKET", notify.c_str(), 1);
  ::execv(argv[0], argv.data());
  ::_exit(127);
}

int collect(pid_t child) {
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

}  // namespace

int open_notify_socket(const std::string& address) {
  const int socket = ::socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
  sockaddr_un peer{};
  peer.sun_family = AF_UNIX;
  address.copy(peer.sun_path, sizeof peer.sun_path - 1);
  ::bind(socket, reinterpret_cast<sockaddr*>(&peer), sizeof peer);
  return socket;
}

bool tells_alive(int notify) {
  char text[256];
  const ssize_t got = ::recv(notify, text, sizeof text, 0);
  return got > 0 && std::string_view(text, static_cast<std::size_t>(got)).find("WATCHDOG=1") !=
                        std::string_view::npos;
}

int outputs_safe(const std::string& state_dir) {
  return collect(spawn({"/bin/neap-outputs-safe", state_dir}, state_dir + "/safe.log", {}));
}

Daemon::Daemon(std::string folder, const std::string& settings) : folder_(std::move(folder)) {
  ::mkdir(folder_.c_str(), 0755);
  write_settings(settings);
}

void Daemon::write_settings(const std::string& text) const {
  write_text(folder_ + "/settings.yaml", text);
}

void Daemon::start(const std::string& notify) {
  newest_log = folder_ + "/log";
  ::unlink((folder_ + "/socket").c_str());
  pid_ = spawn({"/bin/neapd", "--settings", folder_ + "/settings.yaml", "--state-dir", state_dir(),
                "--journal", folder_ + "/journal.db", "--socket", folder_ + "/socket"},
               folder_ + "/log", notify);
}

bool Daemon::wait_until_it_answers(double seconds) {
  return wait_for([this] { return !ask("ping").empty(); }, seconds);
}

void Daemon::send(int signal) const { ::kill(pid_, signal); }

void Daemon::kill_it() {
  if (pid_ <= 0) return;
  ::kill(pid_, SIGKILL);
  collect(pid_);
  pid_ = 0;
}

int Daemon::wait_for_its_end() {
  const int code = collect(pid_);
  pid_ = 0;
  return code;
}

bool Daemon::runs() const { return pid_ > 0 && ::waitpid(pid_, nullptr, WNOHANG) == 0; }

std::string Daemon::ask(const std::string& verb, const std::string& args) {
  const std::string request = "{\"id\":" + std::to_string(++requests_) + ",\"verb\":\"" + verb +
                              "\",\"args\":" + args + "}";
  const int peer = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
  const timeval patience{kAnswerSeconds, 0};
  ::setsockopt(peer, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  (folder_ + "/socket").copy(address.sun_path, sizeof address.sun_path - 1);
  std::string answer;
  if (::connect(peer, reinterpret_cast<sockaddr*>(&address), sizeof address) == 0) {
    std::uint32_t length = htonl(static_cast<std::uint32_t>(request.size()));
    ::send(peer, &length, sizeof length, MSG_NOSIGNAL);
    ::send(peer, request.data(), request.size(), MSG_NOSIGNAL);
    if (::recv(peer, &length, sizeof length, MSG_WAITALL) == sizeof length) {
      answer.resize(ntohl(length));
      const ssize_t got = ::recv(peer, answer.data(), answer.size(), MSG_WAITALL);
      if (got != static_cast<ssize_t>(answer.size())) answer.clear();
    }
  }
  ::close(peer);
  return answer;
}

bool Daemon::granted(const std::string& verb, const std::string& args) {
  return ask(verb, args).find("\"ok\":true") != std::string::npos;
}

bool Daemon::hold_pump(int for_s) {
  return granted("hold", R"({"output":"pump","level":1000,"for_s":)" + std::to_string(for_s) + "}");
}

std::string Daemon::reading(const std::string& point) {
  const std::string status = ask("status");
  const std::size_t at = status.find("\"point\":\"" + point + "\"");
  const std::size_t value = status.find("\"value\":", at);
  if (at == std::string::npos || value == std::string::npos) return {};
  const std::size_t from = value + std::strlen("\"value\":");
  return status.substr(from, status.find_first_of(",}", from) - from);
}

bool Daemon::has_alarm(const std::string& name) {
  return ask("alarms").find("\"" + name + "\"") != std::string::npos;
}

std::string Daemon::by_hand(std::vector<std::string> words) const {
  const std::string page = folder_ + "/page";
  ::unlink(page.c_str());
  const std::vector<std::string> all{"/bin/neap", "--socket", folder_ + "/socket"};
  words.insert(words.begin(), all.begin(), all.end());
  collect(spawn(words, page, {}));
  return read_text(page);
}

std::string Daemon::log() const { return read_text(folder_ + "/log"); }

std::string Daemon::last_words() {
  const std::string all = read_text(newest_log);
  return all.substr(all.size() - std::min(all.size(), kLastWords));
}

}  // namespace hardware
