// Putting a backup back. Nothing is applied by halves: all is copied beside its place and compared
// first; then, under the marker `restoring`, which keeps neapd from running, old files are renamed
// into a folder of their own and new ones into their places. Cut off there, the same restore again
// ends the work. neapd finds the marker `restored` and believes neither budgets nor the absence of
// latches (shell/boot.h).
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/client/backup_set.h"
#include "daemon/client/session.h"

namespace neap::client {

struct Restored {
  std::filesystem::path state_dir, journal, settings;
  std::vector<std::filesystem::path> set_aside;  // folders with what was there
  std::vector<std::string> remarks;
};

// To the places of `globals`. Refused while neapd runs on them, and, unless `over_newer`, where
// journal or state go on after the backup's end. Settings are put back where there are none; others
// stay.
Restored restore_in_place(const CheckedBackup& backup, const Globals& globals, bool over_newer);
// Into the new folder `to`, beside everything: a state directory with journal and settings in it.
Restored restore_to(const CheckedBackup& backup, const std::filesystem::path& to);

}  // namespace neap::client
