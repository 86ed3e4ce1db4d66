// Ctrl-C while a person is asked: a flag, so that what runs can be ended in order.
#pragma once

#include <csignal>

namespace neap::client {

// From construction to destruction SIGINT sets a flag and interrupts a read that waits.
class Interrupt {
 public:
  Interrupt();
  ~Interrupt();
  Interrupt(const Interrupt&) = delete;
  Interrupt& operator=(const Interrupt&) = delete;

  static bool came();

 private:
  struct sigaction before_ {};
};

}  // namespace neap::client
