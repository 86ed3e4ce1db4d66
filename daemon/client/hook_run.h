// Starts one hook: fixed words, no shell, an environment of a few names, what is told on its
// standard input, everything else closed. It has a process group of its own, which is killed at the
// time limit and at its end, so that nothing it started stays behind.
#pragma once

#include <string>
#include <vector>

#include "daemon/core/instant.h"

namespace neap::client {

struct HookEnd {
  bool done = false;      // exit code 0, within the time
  std::string why;        // else in words: "exit code 3: no route to host", "no end within 10 s"
  std::string last_word;  // the first line that it wrote, printable, at most 160 characters
};

// Never throws: a program that cannot be started is an end like any other.
HookEnd run_hook(const std::vector<std::string>& argv, const std::string& told, Millis time_limit);

}  // namespace neap::client
