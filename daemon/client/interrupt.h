// Ctrl-C, a lost session or SIGTERM while a person is asked: a flag, so that what runs can be ended
// in order.
#pragma once

#include <array>
#include <csignal>

namespace neap::client {

// From construction to destruction SIGINT, SIGHUP and SIGTERM set a flag and interrupt a read that
// waits.
class Interrupt {
 public:
  Interrupt();
  ~Interrupt();
  Interrupt(const Interrupt&) = delete;
  Interrupt& operator=(const Interrupt&) = delete;

  static bool came();

 private:
  static constexpr std::array kSignals{SIGINT, SIGHUP, SIGTERM};
  std::array<struct sigaction, kSignals.size()> before_{};
};

}  // namespace neap::client
