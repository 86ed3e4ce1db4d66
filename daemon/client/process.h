// Runs a program to its end and hands over what it writes, line by line. No shell is involved.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

namespace neap::client {

struct Outcome {
  int code = 0;    // exit code, when it ended by itself
  int signal = 0;  // or the signal that ended it; 0: none
};

using TakeLine = std::function<void(std::string_view line)>;

// `argv[0]` is the program's path. The terminal's interrupt reaches the program, not the caller, so
// that its end can still be told. Throws a Failure when it cannot be started.
Outcome run_program(const std::vector<std::string>& argv, const TakeLine& out_line,
                    const TakeLine& err_line);

}  // namespace neap::client
