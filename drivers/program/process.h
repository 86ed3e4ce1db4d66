// A child program and the two pipes to it. Knows lines, not their meaning.
//
// The child gets argv as given (no shell), a clean environment (PATH, LANG=C.UTF-8,
// NEAP_PROTOCOL=1), the root folder as working directory, a process group of its own, default
// signal handling and no descriptor of ours but its input, its output and our error stream. It may
// leave nothing behind in its group: end() kills the group. A descendant that leaves the group
// escapes.
//
// Not thread-safe; the owner locks.
#pragma once

#include <sys/types.h>

#include <cstddef>
#include <cstdint>
#include <deque>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/core/instant.h"
#include "drivers/bus/descriptor.h"

namespace neap::drivers::program {

constexpr std::size_t kLongestLine = 4096;  // bytes, newline included
// A program answers one request with one line; 64 unread ones are a program that has lost its mind.
constexpr std::size_t kUnreadLines = 64;

class Process {
 public:
  // Empty when the program cannot be started.
  static std::optional<Process> start(const std::vector<std::string>& command);

  Process(Process&& other) noexcept;
  Process& operator=(Process&&) = delete;
  ~Process();  // end(Millis{0})

  // Sends one line (without newline, below kLongestLine). False when the program is gone or has
  // stopped reading. Never blocks, never raises SIGPIPE.
  bool send(std::string_view line);

  enum class Stream : std::uint8_t {
    open,
    closed,   // end of file: the program ended or closed its output
    flooded,  // a line too long, or too many unread ones
  };
  // Takes in what has arrived, without blocking. Lines taken in before the stream ended stay
  // readable. Once closed or flooded, a stream stays so.
  Stream take_in();
  std::optional<std::string> next_line();

  // Waits until there is something to take in, at most `longest`.
  void wait(Millis longest) const;
  int output() const { return from_child_.get(); }  // to poll on

  // Ends the program's input and nothing else.
  void close_input() { to_child_.reset(); }
  // Closes the program's input, lets it end by itself for up to `grace`, kills what is left of its
  // group and collects it.
  void end(Millis grace);

 private:
  Process(pid_t pid, Descriptor to_child, Descriptor from_child);
  void split_lines();

  std::optional<pid_t> pid_;
  Descriptor to_child_;
  Descriptor from_child_;
  Stream stream_ = Stream::open;
  std::string partial_;  // the beginning of a line whose end has not arrived
  std::deque<std::string> lines_;
};

}  // namespace neap::drivers::program
