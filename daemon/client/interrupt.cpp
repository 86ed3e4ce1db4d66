#include "daemon/client/interrupt.h"

namespace neap::client {
namespace {

volatile std::sig_atomic_t g_came = 0;

extern "C" void note_interrupt(int) { g_came = 1; }

}  // namespace

Interrupt::Interrupt() {
  g_came = 0;
  struct sigaction action {};
  action.sa_handler = note_interrupt;  // without SA_RESTART: the read ends
  sigemptyset(&action.sa_mask);
  for (std::size_t i = 0; i < kSignals.size(); ++i) sigaction(kSignals[i], &action, &before_[i]);
}

Interrupt::~Interrupt() {
  for (std::size_t i = 0; i < kSignals.size(); ++i) sigaction(kSignals[i], &before_[i], nullptr);
}

bool Interrupt::came() { return g_came != 0; }

}  // namespace neap::client
