// A disk that fails on demand: SQLite's own file layer with a fault in front of the write-ahead
// log. While it lives, every file that SQLite opens goes through it.
#pragma once

#include <sqlite3.h>

#include <atomic>

namespace neap::journal::testing {

class FaultyDisk {
 public:
  FaultyDisk();
  ~FaultyDisk();
  FaultyDisk(const FaultyDisk&) = delete;
  FaultyDisk& operator=(const FaultyDisk&) = delete;

  // The next so many syncs of the log reach the disk and report failure all the same: the caller
  // cannot know that its data is safe.
  std::atomic<int> syncs_to_fail{0};
  // The next so many writes to the log are not carried out.
  std::atomic<int> writes_to_fail{0};

 private:
  sqlite3_vfs* real_;
  sqlite3_vfs vfs_;
};

}  // namespace neap::journal::testing
