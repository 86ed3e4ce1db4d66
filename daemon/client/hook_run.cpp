#include "daemon/client/hook_run.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <string_view>

#include "daemon/client/descriptor.h"
#include "daemon/client/look.h"

namespace neap::client {
namespace {

using Steady = std::chrono::steady_clock;

constexpr std::size_t kLongestWord = 160;

struct Ends {
  Descriptor read, write;
};

bool open_pipe(Ends& ends) {
  std::array<int, 2> both{};
  if (::pipe2(both.data(), O_CLOEXEC) != 0) return false;
  ends = {Descriptor(both[0]), Descriptor(both[1])};
  return true;
}

void never_wait(const Descriptor& fd) { ::fcntl(fd.number(), F_SETFL, O_NONBLOCK); }

// Who may write the program may tell in neap's name whatever he likes.
std::string objection(const std::string& path) {
  struct stat file {};
  if (::stat(path.c_str(), &file) != 0) return std::strerror(errno);
  if (!S_ISREG(file.st_mode)) return "it is no regular file";
  if ((file.st_mode & S_IWOTH) != 0)
    return "every user of this machine may write it: chmod o-w " + path;
  return {};
}

// 0 and the process in `pid`, or the error's number.
int spawn(const std::vector<std::string>& argv, const Ends& in, const Ends& out, pid_t& pid) {
  std::vector<char*> words;
  for (const std::string& word : argv) words.push_back(const_cast<char*>(word.c_str()));
  words.push_back(nullptr);
  std::string path = "PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin";
  std::string language = "LC_ALL=C.UTF-8";
  std::array<char*, 3> environment{path.data(), language.data(), nullptr};
  posix_spawn_file_actions_t files;
  posix_spawnattr_t attributes;
  ::posix_spawn_file_actions_init(&files);
  ::posix_spawnattr_init(&attributes);
  ::posix_spawn_file_actions_adddup2(&files, in.read.number(), STDIN_FILENO);
  ::posix_spawn_file_actions_adddup2(&files, out.write.number(), STDOUT_FILENO);
  ::posix_spawn_file_actions_adddup2(&files, out.write.number(), STDERR_FILENO);
  ::posix_spawn_file_actions_addclosefrom_np(&files, STDERR_FILENO + 1);
  sigset_t all;
  ::sigfillset(&all);
  sigset_t none;
  ::sigemptyset(&none);
  ::posix_spawnattr_setsigdefault(&attributes, &all);
  ::posix_spawnattr_setsigmask(&attributes, &none);
  ::posix_spawnattr_setpgroup(&attributes, 0);
  ::posix_spawnattr_setflags(
      &attributes, POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETPGROUP);
  const int error =
      ::posix_spawn(&pid, words[0], &files, &attributes, words.data(), environment.data());
  ::posix_spawnattr_destroy(&attributes);
  ::posix_spawn_file_actions_destroy(&files);
  return error;
}

// One that went away before it read everything says so by its exit code, not by ending us.
class PipeSignalIgnored {
 public:
  PipeSignalIgnored() {
    struct sigaction ignore {};
    ignore.sa_handler = SIG_IGN;
    ::sigaction(SIGPIPE, &ignore, &before_);
  }
  ~PipeSignalIgnored() { ::sigaction(SIGPIPE, &before_, nullptr); }
  PipeSignalIgnored(const PipeSignalIgnored&) = delete;
  PipeSignalIgnored& operator=(const PipeSignalIgnored&) = delete;

 private:
  struct sigaction before_ {};
};

class Talk {
 public:
  Talk(Descriptor to, Descriptor from, std::string_view told)
      : to_(std::move(to)), from_(std::move(from)), rest_(told) {
    never_wait(to_);
    never_wait(from_);
  }

  // Until the process ends, or `until`. True when it has ended.
  bool until_end(const Descriptor& process, Steady::time_point until) {
    for (;;) {
      const auto left =
          std::chrono::duration_cast<std::chrono::milliseconds>(until - Steady::now()).count();
      if (left <= 0) return false;
      std::array<pollfd, 3> wait{pollfd{process.number(), POLLIN, 0},
                                 pollfd{from_.number(), POLLIN, 0},
                                 pollfd{to_.number(), POLLOUT, 0}};
      if (::poll(wait.data(), wait.size(), static_cast<int>(left)) < 0 && errno != EINTR)
        return false;
      if (wait[1].revents != 0) read_some();
      if (wait[2].revents != 0) write_some();
      if (wait[0].revents != 0) {
        read_some();  // what it wrote last
        return true;
      }
    }
  }

  std::string first_line() const {
    const std::string line = words::printable(heard_.substr(0, heard_.find('\n')));
    return clipped(line, kLongestWord);
  }

 private:
  // One that writes without end is read without end, up to its time limit, and the first kept.
  void read_some() {
    std::array<char, 4096> chunk{};
    const ssize_t got = ::read(from_.number(), chunk.data(), chunk.size());
    if (got == 0 || (got < 0 && errno != EAGAIN && errno != EINTR)) return from_.close();
    if (got < 0 || heard_.find('\n') != std::string::npos) return;
    heard_.append(chunk.data(),
                  std::min(static_cast<std::size_t>(got), chunk.size() - heard_.size()));
  }
  void write_some() {
    const ssize_t put = ::write(to_.number(), rest_.data(), rest_.size());
    if (put < 0 && (errno == EAGAIN || errno == EINTR)) return;
    if (put > 0) rest_.remove_prefix(static_cast<std::size_t>(put));
    if (put <= 0 || rest_.empty()) to_.close();
  }

  Descriptor to_, from_;
  std::string_view rest_;
  std::string heard_;
};

std::string what_ended_it(int status) {
  if (WIFSIGNALED(status)) return std::string("ended by signal ") + ::strsignal(WTERMSIG(status));
  return WEXITSTATUS(status) == 0 ? std::string()
                                  : "exit code " + std::to_string(WEXITSTATUS(status));
}

}  // namespace

HookEnd run_hook(const std::vector<std::string>& argv, const std::string& told, Millis time_limit) {
  if (std::string no = objection(argv.front()); !no.empty()) return {false, no, {}};
  const PipeSignalIgnored ignored;
  Ends in;
  Ends out;
  if (!open_pipe(in) || !open_pipe(out))
    return {false, std::string("no pipe: ") + std::strerror(errno), {}};
  const auto until = Steady::now() + time_limit;
  pid_t pid = 0;
  if (const int error = spawn(argv, in, out, pid); error != 0)
    return {false, std::string("cannot be started: ") + std::strerror(error), {}};
  in.read.close();
  out.write.close();
  // By its number: glibc 2.36 declares pidfd_open() for C alone.
  const Descriptor process(static_cast<int>(::syscall(SYS_pidfd_open, pid, 0)));
  Talk talk(std::move(in.write), std::move(out.read), told);
  const bool ended = process && talk.until_end(process, until);
  ::kill(-pid, SIGKILL);  // also what it left behind; it is not reaped yet, so the group is its own
  int status = 0;
  while (::waitpid(pid, &status, 0) < 0 && errno == EINTR) {
  }
  HookEnd end;
  end.last_word = talk.first_line();
  end.why = ended ? what_ended_it(status)
                  : "no end within " + words::duration(time_limit) + ", so it was killed";
  end.done = end.why.empty();
  if (!end.done && !end.last_word.empty()) end.why += ": " + end.last_word;
  return end;
}

}  // namespace neap::client
