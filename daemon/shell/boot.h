// What a start knows of the runs before it: the tick to go on from, what was kept, and whether the
// daemon is in a crash loop.
//
// Crash loop: kDirtyStarts starts within kLoopWindow of tick, each after a run that did not stop
// properly, put the daemon in safe mode for kSafeMode: it reads, journals and answers, and keeps
// every output at its safe level. Then it is normal again.
#pragma once

#include <optional>
#include <string>

#include "daemon/shell/state_file.h"

namespace neap::shell {

struct Boot {
  static constexpr int kDirtyStarts = 3;
  static constexpr Millis kLoopWindow = minutes{10};
  static constexpr Millis kSafeMode = minutes{30};

  Instant start{};    // the first tick of this run: later than any before
  BootRecord record;  // to be saved at once: it says that this run has not stopped yet
  std::optional<Kept> kept;
  bool state_lost = false;  // there was a state, and it cannot be trusted
  bool clean_before = true;
  bool first_run = false;  // nothing was ever kept here
};

// `ran_before`: other traces of an earlier run exist (an output manifest), so that a missing state
// file is a loss and not a first run. `journal_tick`: newest tick in the journal.
Boot read_boot(StateFile& file, std::optional<Instant> journal_tick, bool ran_before);

}  // namespace neap::shell
