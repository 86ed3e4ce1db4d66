// Making a backup, while neapd runs or not: see backup_set.h for what it is. neapd is neither asked
// nor held up: SQLite's online backup reads the journal beside its writer, and of the state file,
// which is written in place, one of two slots is always whole.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/client/backup_set.h"
#include "daemon/client/session.h"

namespace neap::client {

struct MadeBackup {
  std::filesystem::path folder;
  BackupAbout about;
  std::uintmax_t bytes = 0;
  bool same_disk = false;                   // as the journal
  std::vector<std::filesystem::path> gone;  // older ones, removed
  std::vector<std::string> remarks;         // what a person should know
};

// Into a new folder of `into`, which is made where its parent is there. `keep`: so many backups
// stay in `into`, the oldest by their journal's tick go; 0: all stay. A Failure leaves nothing
// behind that could be taken for a backup.
MadeBackup make_backup(const Globals& globals, const std::filesystem::path& into, int keep,
                       std::int64_t now_unix_ms);

}  // namespace neap::client
