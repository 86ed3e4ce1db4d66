// The disk as SQLite sees it: its own file layer with a counter of what is written and synced, and
// a fault in front of the write-ahead log on demand. While it lives, every file that SQLite opens
// goes through it.
#pragma once

#include <sqlite3.h>

#include <atomic>
#include <cstdint>
#include <functional>

namespace neap::journal::testing {

class WatchedDisk {
 public:
  struct Count {
    std::atomic<std::int64_t> bytes{0};
    std::atomic<std::int64_t> syncs{0};
  };

  WatchedDisk();
  ~WatchedDisk();
  WatchedDisk(const WatchedDisk&) = delete;
  WatchedDisk& operator=(const WatchedDisk&) = delete;

  // The next so many syncs of the log reach the disk and report failure all the same: the caller
  // cannot know that its data is safe.
  std::atomic<int> syncs_to_fail{0};
  // The next so many writes to the log are not carried out.
  std::atomic<int> writes_to_fail{0};

  Count log;   // the write-ahead log
  Count file;  // the database itself, which checkpoints write
  // Called on the writing thread once the log holds a whole transaction and is synced. Set before
  // the first file is opened.
  std::function<void()> on_commit;

 private:
  sqlite3_vfs* real_;
  sqlite3_vfs vfs_;
};

}  // namespace neap::journal::testing
