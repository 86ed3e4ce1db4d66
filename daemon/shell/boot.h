// What a start knows of the runs before it: the tick to go on from, what was kept, and whether the
// daemon is in a crash loop.
//
// Crash loop: kDirtyStarts starts within kLoopWindow of tick, each after a run that did not stop
// properly, put the daemon in safe mode for kSafeMode: it reads, journals and answers, and keeps
// every output at its safe level. Then it is normal again.
#pragma once

#include <optional>
#include <string>

#include "daemon/settings/settings.h"
#include "daemon/shell/log.h"
#include "daemon/shell/state_file.h"

namespace neap::shell {

struct Boot {
  static constexpr int kDirtyStarts = 3;
  static constexpr Millis kLoopWindow = minutes{10};
  static constexpr Millis kSafeMode = minutes{30};
  // A state is saved each hour at least. One that lies further behind the journal is not the newest
  // (its disk refused writes), or the journal is another machine's: it counts as lost.
  static constexpr Millis kStateAge = hours{2};

  Instant start{};    // the first tick of this run: later than any before
  BootRecord record;  // to be saved at once: it says that this run has not stopped yet
  std::optional<Kept> kept;
  bool state_lost = false;  // there was a state, and it cannot be trusted; `kept` is an old one
  bool one_slot = false;    // one of its two slots was damaged
  bool clean_before = true;
  bool first_run = false;  // nothing was ever kept here
  bool restored = false;   // `kept` comes from a backup
  // What a later neap has written here, for a person; empty: nothing. This one then keeps its hands
  // off: outputs safe, no file changed.
  std::string later;
};

// Takes a marker state_folder::kRestored in `state_dir`, if there is one, into account.
void mind_restored(Boot& boot, const std::string& state_dir);

// A part of the daemon does what it must not: safe mode as in a crash loop.
void distrust(BootRecord& record, Instant now);

// Makes the state directory with its spool where there is none, in a parent that must exist: a slip
// of the pen in its path would otherwise pass for a first run and forget budgets and latches. What
// it makes is logged as a warning, as is a spool that the disk does not take: neapd runs without.
// An error text with its remedy, or empty.
std::string make_state_dir(const std::string& state_dir, const LogSink& log);

// `ran_before`: other traces of an earlier run exist (an output manifest, a journal), so that a
// missing state file is a loss and not a first run. `known_tick`: the newest tick known beside the
// state file, whose own may be an hour old; safe mode and the window of a crash loop are counted
// from the later.
Boot read_boot(StateFile& file, std::optional<Instant> known_tick, bool ran_before);

// What `neap check` would warn of: pipes, pump and reservoir that do not go together.
void tell_build(const settings::Loaded& loaded, const LogSink& log);

}  // namespace neap::shell
