#include "daemon/client/process.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

#include "daemon/client/descriptor.h"
#include "daemon/client/failure.h"

extern char** environ;

namespace neap::client {
namespace {

struct Pipe {
  Descriptor read, write;
};

Pipe make_pipe() {
  std::array<int, 2> ends{};
  if (::pipe2(ends.data(), O_CLOEXEC) != 0)
    throw Failure(kExitFailed, std::string("no pipe: ") + std::strerror(errno), "");
  return {Descriptor(ends[0]), Descriptor(ends[1])};
}

// The caller lets the terminal's interrupt pass while the program runs.
class InterruptIgnored {
 public:
  InterruptIgnored() {
    struct sigaction ignore {};
    ignore.sa_handler = SIG_IGN;
    ::sigaction(SIGINT, &ignore, &before_);
  }
  ~InterruptIgnored() { ::sigaction(SIGINT, &before_, nullptr); }
  InterruptIgnored(const InterruptIgnored&) = delete;
  InterruptIgnored& operator=(const InterruptIgnored&) = delete;

 private:
  struct sigaction before_ {};
};

pid_t spawn(const std::vector<std::string>& argv, const Pipe& out, const Pipe& err) {
  std::vector<char*> words;
  for (const std::string& word : argv) words.push_back(const_cast<char*>(word.c_str()));
  words.push_back(nullptr);
  posix_spawn_file_actions_t files;
  posix_spawnattr_t attributes;
  ::posix_spawn_file_actions_init(&files);
  ::posix_spawnattr_init(&attributes);
  ::posix_spawn_file_actions_addopen(&files, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
  ::posix_spawn_file_actions_adddup2(&files, out.write.number(), STDOUT_FILENO);
  ::posix_spawn_file_actions_adddup2(&files, err.write.number(), STDERR_FILENO);
  sigset_t defaults;
  ::sigemptyset(&defaults);
  ::sigaddset(&defaults, SIGINT);
  ::posix_spawnattr_setsigdefault(&attributes, &defaults);
  ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGDEF);
  pid_t pid = 0;
  const int error = ::posix_spawn(&pid, words[0], &files, &attributes, words.data(), environ);
  ::posix_spawnattr_destroy(&attributes);
  ::posix_spawn_file_actions_destroy(&files);
  if (error != 0)
    throw Failure(kExitFailed, "cannot run " + argv[0] + ": " + std::strerror(error),
                  "build or install neapd beside neap, or name it in NEAPD");
  return pid;
}

struct Stream {
  Descriptor fd;
  const TakeLine& take;
  std::string buffer;

  // False at the end.
  bool read_some() {
    std::array<char, 4096> chunk{};
    const ssize_t got = ::read(fd.number(), chunk.data(), chunk.size());
    if (got < 0 && errno == EINTR) return true;
    if (got <= 0) {
      if (!buffer.empty()) take(buffer);
      fd.close();
      return false;
    }
    buffer.append(chunk.data(), static_cast<std::size_t>(got));
    for (std::size_t end = 0; (end = buffer.find('\n')) != std::string::npos;) {
      take(std::string_view(buffer).substr(0, end));
      buffer.erase(0, end + 1);
    }
    return true;
  }
};

void read_to_end(std::array<Stream, 2>& streams) {
  int open = 2;
  while (open > 0) {
    std::array<pollfd, 2> wait{};
    for (std::size_t i = 0; i < streams.size(); ++i)
      wait[i] = {streams[i].fd.number(), POLLIN, 0};  // poll passes over a closed one
    if (::poll(wait.data(), wait.size(), -1) < 0 && errno != EINTR) return;
    for (std::size_t i = 0; i < streams.size(); ++i)
      if (wait[i].revents != 0 && !streams[i].read_some()) --open;
  }
}

}  // namespace

Outcome run_program(const std::vector<std::string>& argv, const TakeLine& out_line,
                    const TakeLine& err_line) {
  const InterruptIgnored interrupt;
  Pipe out = make_pipe();
  Pipe err = make_pipe();
  const pid_t pid = spawn(argv, out, err);
  out.write.close();
  err.write.close();
  std::array<Stream, 2> streams{Stream{std::move(out.read), out_line, {}},
                                Stream{std::move(err.read), err_line, {}}};
  read_to_end(streams);
  int status = 0;
  while (::waitpid(pid, &status, 0) < 0 && errno == EINTR) {
  }
  if (WIFSIGNALED(status)) return {0, WTERMSIG(status)};
  return {WEXITSTATUS(status), 0};
}

}  // namespace neap::client
