#include "tests/journal/watched_disk.h"

#include <utility>

namespace neap::journal::testing {
namespace {

struct File {
  sqlite3_file base;
  WatchedDisk* disk;
  WatchedDisk::Count* count;  // null: neither log nor database
  bool is_log;
  bool commit_written;
  sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
};

File& file_of(sqlite3_file* f) { return *reinterpret_cast<File*>(f); }
sqlite3_file* real_of(sqlite3_file* f) { return file_of(f).real(); }

bool takes_one(std::atomic<int>& left) {
  if (left.load() <= 0) return false;
  --left;
  return true;
}

// Passes a call of any signature on to the real file.
template <auto Method>
struct Pass;
template <class... Args, int (*sqlite3_io_methods::*Method)(sqlite3_file*, Args...)>
struct Pass<Method> {
  static int call(sqlite3_file* f, Args... args) {
    return (real_of(f)->pMethods->*Method)(real_of(f), args...);
  }
};

// A frame of the log begins with a header; in the last one of a transaction the second word, the
// database's size in pages after it, is not zero (https://sqlite.org/fileformat2.html, 4.1).
constexpr int kFrameHeaderSize = 24;
bool ends_transaction(const void* data, int size) {
  const auto* bytes = static_cast<const unsigned char*>(data);
  return size == kFrameHeaderSize && (bytes[4] | bytes[5] | bytes[6] | bytes[7]) != 0;
}

int write(sqlite3_file* f, const void* data, int size, sqlite3_int64 at) {
  File& file = file_of(f);
  if (file.is_log && takes_one(file.disk->writes_to_fail)) return SQLITE_IOERR_WRITE;
  if (file.count != nullptr) file.count->bytes += size;
  if (file.is_log && ends_transaction(data, size)) file.commit_written = true;
  return real_of(f)->pMethods->xWrite(real_of(f), data, size, at);
}

int sync(sqlite3_file* f, int flags) {
  File& file = file_of(f);
  const int code = real_of(f)->pMethods->xSync(real_of(f), flags);
  if (file.is_log && takes_one(file.disk->syncs_to_fail)) return SQLITE_IOERR_FSYNC;
  if (file.count != nullptr) ++file.count->syncs;
  if (std::exchange(file.commit_written, false) && file.disk->on_commit) file.disk->on_commit();
  return code;
}

void shm_barrier(sqlite3_file* f) { real_of(f)->pMethods->xShmBarrier(real_of(f)); }

using Io = sqlite3_io_methods;
constexpr Io kMethods{
    3,
    Pass<&Io::xClose>::call,
    Pass<&Io::xRead>::call,
    write,
    Pass<&Io::xTruncate>::call,
    sync,
    Pass<&Io::xFileSize>::call,
    Pass<&Io::xLock>::call,
    Pass<&Io::xUnlock>::call,
    Pass<&Io::xCheckReservedLock>::call,
    Pass<&Io::xFileControl>::call,
    Pass<&Io::xSectorSize>::call,
    Pass<&Io::xDeviceCharacteristics>::call,
    Pass<&Io::xShmMap>::call,
    Pass<&Io::xShmLock>::call,
    shm_barrier,
    Pass<&Io::xShmUnmap>::call,
    Pass<&Io::xFetch>::call,
    Pass<&Io::xUnfetch>::call,
};

int open(sqlite3_vfs* vfs, const char* name, sqlite3_file* f, int flags, int* out) {
  auto* disk = static_cast<WatchedDisk*>(vfs->pAppData);
  sqlite3_vfs* real = sqlite3_vfs_find("unix");
  File& file = file_of(f);
  file.disk = disk;
  file.is_log = (flags & SQLITE_OPEN_WAL) != 0;
  file.commit_written = false;
  file.count = file.is_log                          ? &disk->log
               : (flags & SQLITE_OPEN_MAIN_DB) != 0 ? &disk->file
                                                    : nullptr;
  const int code = real->xOpen(real, name, file.real(), flags, out);
  file.base.pMethods = file.real()->pMethods != nullptr ? &kMethods : nullptr;
  return code;
}

}  // namespace

WatchedDisk::WatchedDisk() : real_(sqlite3_vfs_find(nullptr)), vfs_(*real_) {
  vfs_.zName = "watched";
  vfs_.szOsFile = static_cast<int>(sizeof(File)) + real_->szOsFile;
  vfs_.pAppData = this;
  vfs_.xOpen = open;
  sqlite3_vfs_register(&vfs_, 1);
}

WatchedDisk::~WatchedDisk() {
  sqlite3_vfs_unregister(&vfs_);
  sqlite3_vfs_register(real_, 1);
}

}  // namespace neap::journal::testing
