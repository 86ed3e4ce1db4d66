#include "drivers/program/process.h"

#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <spawn.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <climits>

namespace neap::drivers::program {
namespace {

static_assert(kLongestLine <= PIPE_BUF, "a line must go into the pipe whole or not at all");

// Killed processes are collected within milliseconds; one that the kernel holds in a dead device is
// left as it is after this long, so that the strand goes on.
constexpr Millis kCollectWithin{1000};

int as_poll_timeout(Millis longest) { return static_cast<int>(longest.count()); }

struct Pipe {
  Descriptor read_end;
  Descriptor write_end;
};

// Above the standard three, so that dup2() onto those cannot hit a descriptor it still needs.
Descriptor above_standard(Descriptor original) {
  return Descriptor{::fcntl(original.get(), F_DUPFD_CLOEXEC, STDERR_FILENO + 1)};
}

std::optional<Pipe> make_pipe() {
  std::array<int, 2> ends{};
  if (::pipe2(ends.data(), O_CLOEXEC) != 0) return std::nullopt;
  Pipe pipe{above_standard(Descriptor{ends[0]}), above_standard(Descriptor{ends[1]})};
  if (!pipe.read_end || !pipe.write_end) return std::nullopt;
  return pipe;
}

void make_nonblocking(const Descriptor& end) { ::fcntl(end.get(), F_SETFL, O_NONBLOCK); }

// What posix_spawn must do in the child between fork and exec.
class SpawnOrders {
 public:
  SpawnOrders(const Descriptor& input, const Descriptor& output) {
    posix_spawn_file_actions_init(&actions_);
    posix_spawn_file_actions_adddup2(&actions_, input.get(), STDIN_FILENO);
    posix_spawn_file_actions_adddup2(&actions_, output.get(), STDOUT_FILENO);
    posix_spawn_file_actions_addclosefrom_np(&actions_, STDERR_FILENO + 1);
    posix_spawn_file_actions_addchdir_np(&actions_, "/");

    sigset_t all;
    sigset_t none;
    sigfillset(&all);
    sigemptyset(&none);
    posix_spawnattr_init(&attributes_);
    posix_spawnattr_setsigdefault(&attributes_, &all);
    posix_spawnattr_setsigmask(&attributes_, &none);
    posix_spawnattr_setpgroup(&attributes_, 0);
    posix_spawnattr_setflags(
        &attributes_, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETSIGMASK);
  }
  SpawnOrders(const SpawnOrders&) = delete;
  SpawnOrders& operator=(const SpawnOrders&) = delete;
  ~SpawnOrders() {
    posix_spawn_file_actions_destroy(&actions_);
    posix_spawnattr_destroy(&attributes_);
  }
  const posix_spawn_file_actions_t* actions() const { return &actions_; }
  const posix_spawnattr_t* attributes() const { return &attributes_; }

 private:
  posix_spawn_file_actions_t actions_;
  posix_spawnattr_t attributes_;
};

std::optional<pid_t> spawn(const std::vector<std::string>& command, const SpawnOrders& orders) {
  std::vector<char*> argv;
  for (const std::string& word : command) argv.push_back(const_cast<char*>(word.c_str()));
  argv.push_back(nullptr);
  std::array<std::string, 3> settings{"PATH=/usr/local/bin:/usr/bin:/bin", "LANG=C.UTF-8",
                                      "NEAP_PROTOCOL=1"};
  std::array<char*, 4> environment{settings[0].data(), settings[1].data(), settings[2].data(),
                                   nullptr};
  pid_t pid{};
  const int error = ::posix_spawn(&pid, argv[0], orders.actions(), orders.attributes(), argv.data(),
                                  environment.data());
  if (error != 0) return std::nullopt;
  return pid;
}

// Keeps a write to a dead program's pipe from ending neap: the signal is held back for this thread
// and thrown away, unless one was pending before, which is not ours to take.
class SigpipeHeldBack {
 public:
  SigpipeHeldBack() {
    sigset_t pending;
    sigpending(&pending);
    was_pending_ = sigismember(&pending, SIGPIPE) == 1;
    sigemptyset(&only_sigpipe_);
    sigaddset(&only_sigpipe_, SIGPIPE);
    pthread_sigmask(SIG_BLOCK, &only_sigpipe_, &before_);
  }
  SigpipeHeldBack(const SigpipeHeldBack&) = delete;
  SigpipeHeldBack& operator=(const SigpipeHeldBack&) = delete;
  ~SigpipeHeldBack() {
    const timespec at_once{};
    if (!was_pending_) sigtimedwait(&only_sigpipe_, nullptr, &at_once);
    pthread_sigmask(SIG_SETMASK, &before_, nullptr);
  }

 private:
  bool was_pending_ = false;
  sigset_t only_sigpipe_{};
  sigset_t before_{};
};

void wait_for_end(pid_t pid, Millis longest) {
  // By number: the header of glibc 2.36 declares pidfd_open() without C linkage.
  const Descriptor ended{static_cast<int>(::syscall(SYS_pidfd_open, pid, 0))};
  if (!ended) return;
  pollfd wait{ended.get(), POLLIN, 0};
  ::poll(&wait, 1, as_poll_timeout(longest));
}

}  // namespace

std::optional<Process> Process::start(const std::vector<std::string>& command) {
  if (command.empty()) return std::nullopt;
  auto input = make_pipe();
  auto output = make_pipe();
  if (!input || !output) return std::nullopt;
  const auto pid = spawn(command, SpawnOrders{input->read_end, output->write_end});
  if (!pid) return std::nullopt;
  make_nonblocking(input->write_end);
  make_nonblocking(output->read_end);
  return Process{*pid, std::move(input->write_end), std::move(output->read_end)};
}

Process::Process(pid_t pid, Descriptor to_child, Descriptor from_child)
    : pid_(pid), to_child_(std::move(to_child)), from_child_(std::move(from_child)) {}

Process::Process(Process&& other) noexcept
    : pid_(std::exchange(other.pid_, std::nullopt)),
      to_child_(std::move(other.to_child_)),
      from_child_(std::move(other.from_child_)),
      stream_(other.stream_),
      partial_(std::move(other.partial_)),
      lines_(std::move(other.lines_)) {}

Process::~Process() { end(Millis{0}); }

bool Process::send(std::string_view line) {
  std::string text{line};
  text += '\n';
  if (!to_child_ || text.size() > kLongestLine) return false;
  const SigpipeHeldBack guard;
  return ::write(to_child_.get(), text.data(), text.size()) == static_cast<ssize_t>(text.size());
}

Process::Stream Process::take_in() {
  std::array<char, kLongestLine> buffer{};
  while (stream_ == Stream::open) {
    const ssize_t got = ::read(from_child_.get(), buffer.data(), buffer.size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0 && errno == EAGAIN) break;
    if (got <= 0) {
      stream_ = Stream::closed;
    } else {
      partial_.append(buffer.data(), static_cast<std::size_t>(got));
      split_lines();
    }
  }
  return stream_;
}

void Process::split_lines() {
  std::size_t begin = 0;
  for (std::size_t end = partial_.find('\n'); end != std::string::npos;
       end = partial_.find('\n', begin)) {
    if (end - begin >= kLongestLine || lines_.size() == kUnreadLines) {
      stream_ = Stream::flooded;
      return;
    }
    lines_.push_back(partial_.substr(begin, end - begin));
    begin = end + 1;
  }
  partial_.erase(0, begin);
  if (partial_.size() >= kLongestLine) stream_ = Stream::flooded;
}

std::optional<std::string> Process::next_line() {
  if (lines_.empty()) return std::nullopt;
  std::string line = std::move(lines_.front());
  lines_.pop_front();
  return line;
}

void Process::wait(Millis longest) const {
  pollfd wait{from_child_.get(), POLLIN, 0};
  ::poll(&wait, 1, as_poll_timeout(longest));
}

void Process::end(Millis grace) {
  if (!pid_) return;
  to_child_.reset();
  if (grace > Millis{0}) wait_for_end(*pid_, grace);
  // The group before the leader is collected: until then its number cannot belong to anyone else.
  ::kill(-*pid_, SIGKILL);
  wait_for_end(*pid_, kCollectWithin);
  ::waitpid(*pid_, nullptr, WNOHANG);
  pid_.reset();
  from_child_.reset();
}

}  // namespace neap::drivers::program
