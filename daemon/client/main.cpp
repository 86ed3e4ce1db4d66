// neap: what a person types.
#include <sys/ioctl.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <cstdlib>
#include <ctime>
#include <exception>
#include <iostream>

#include "daemon/client/cli.h"
#include "daemon/client/failure.h"
#include "daemon/client/interrupt.h"

namespace {

std::optional<std::string> variable(const char* name) {
  const char* value = std::getenv(name);
  return value == nullptr ? std::nullopt : std::optional<std::string>(value);
}

std::string own_path() {
  std::array<char, 4096> path{};
  const ssize_t length = ::readlink("/proc/self/exe", path.data(), path.size());
  return length > 0 ? std::string(path.data(), static_cast<std::size_t>(length)) : std::string();
}

std::int64_t wall_unix_ms() {
  using namespace std::chrono;
  return duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
}

std::size_t terminal_columns() {
  winsize size{};
  return ::ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 ? size.ws_col : 0;
}

// A signal ends the wait early; whoever follows has an Interrupt, which remembers it.
bool wait_for(neap::Millis length) {
  const std::chrono::nanoseconds whole = length;
  const timespec wait{static_cast<time_t>(whole.count() / 1'000'000'000),
                      static_cast<long>(whole.count() % 1'000'000'000)};
  if (!neap::client::Interrupt::came()) ::nanosleep(&wait, nullptr);
  return !neap::client::Interrupt::came();
}

}  // namespace

int main(int argc, char** argv) {
  const neap::client::Surroundings around{std::cout,
                                          std::cerr,
                                          ::isatty(STDOUT_FILENO) == 1,
                                          ::isatty(STDERR_FILENO) == 1,
                                          variable,
                                          wall_unix_ms,
                                          own_path(),
                                          std::cin,
                                          ::isatty(STDIN_FILENO) == 1,
                                          terminal_columns(),
                                          wait_for};
  try {
    const int code = neap::client::run({argv + 1, argv + argc}, around);
    std::cout.flush();
    return std::cout.good() || code != 0 ? code : neap::client::kExitFailed;
  } catch (const std::exception& error) {
    std::cerr << "neap: " << error.what() << "\n";
    return neap::client::kExitFailed;
  }
}
