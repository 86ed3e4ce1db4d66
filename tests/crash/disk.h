// The disk as this program asks the kernel to change it. open, write, pwrite, ftruncate, fsync,
// rename and their like are defined here in place of the C library's: neap's own calls and SQLite's
// come through one door, in one order. What concerns the watched folder is carried out, noted as an
// Op, and refused where a DiskFault says so. No sync reaches the real disk: what a sync is worth is
// what image.h makes of it.
//
// Reading is not watched. SQLite's -shm file is left out: it is memory, and its content after a
// power cut means nothing.
#pragma once

#include <cstdint>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

namespace neap::crash {

struct Op {
  enum class Kind : std::uint8_t {
    create,       // file, name
    write,        // file, at, bytes
    resize,       // file, at = the new size
    sync,         // file: everything before is on the disk
    lost_sync,    // file: failed, and the kernel now takes its dirty pages for clean
    rename,       // name, to
    remove,       // name
    sync_folder,  // every create, rename and remove before is on the disk
    pin,          // no disk: output `file` was driven to level `at`
  };
  Kind kind = Kind::write;
  int file = 0;
  std::int64_t at = 0;
  std::int64_t tick = 0;
  std::string name;
  std::string to;
  std::string bytes;
};

struct DiskFault {
  enum class Call : std::uint8_t { open, write, sync, resize, rename };
  Call call = Call::write;
  int nth = 1;               // the first call that fails, counted from 1
  bool for_ever = false;     // or this one alone
  int error = 0;             // errno
  bool loses_pages = false;  // of a sync: its pages are never written, though later syncs succeed
};

class Disk {
 public:
  static Disk& here();

  // Begins a recording of `folder`, whose files, as they are now, are on the disk. `tick` stamps
  // the operations.
  void watch(const std::string& folder, std::function<std::int64_t()> tick);
  void stop();
  void arm(const std::optional<DiskFault>& fault);
  bool fault_met() const;  // since it was armed
  void pin(int output, int level);

  struct File {
    std::string name;
    std::string bytes;
  };
  const std::vector<File>& before() const { return before_; }  // file numbers are places in here
  const std::vector<Op>& ops() const { return ops_; }
  std::size_t size() const;

  // For the calls in disk.cpp alone.
  struct Calls;

 private:
  friend struct Calls;
  mutable std::recursive_mutex mutex_;
  bool on_ = false;
  std::string folder_;
  std::function<std::int64_t()> tick_;
  std::vector<File> before_;
  std::vector<Op> ops_;
  std::vector<std::pair<std::string, int>> names_;  // of files that are there
  std::vector<std::pair<int, int>> open_;           // descriptor, file
  std::vector<int> open_folders_;
  int files_ = 0;
  std::optional<DiskFault> fault_;
  int calls_ = 0;
  bool fault_met_ = false;
};

}  // namespace neap::crash
