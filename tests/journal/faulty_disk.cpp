#include "tests/journal/faulty_disk.h"

namespace neap::journal::testing {
namespace {

struct File {
  sqlite3_file base;
  FaultyDisk* disk;
  bool is_log;
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

int write(sqlite3_file* f, const void* data, int size, sqlite3_int64 at) {
  File& file = file_of(f);
  if (file.is_log && takes_one(file.disk->writes_to_fail)) return SQLITE_IOERR_WRITE;
  return real_of(f)->pMethods->xWrite(real_of(f), data, size, at);
}

int sync(sqlite3_file* f, int flags) {
  File& file = file_of(f);
  const int code = real_of(f)->pMethods->xSync(real_of(f), flags);
  return file.is_log && takes_one(file.disk->syncs_to_fail) ? SQLITE_IOERR_FSYNC : code;
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
  auto* disk = static_cast<FaultyDisk*>(vfs->pAppData);
  sqlite3_vfs* real = sqlite3_vfs_find("unix");
  File& file = file_of(f);
  file.disk = disk;
  file.is_log = (flags & SQLITE_OPEN_WAL) != 0;
  const int code = real->xOpen(real, name, file.real(), flags, out);
  file.base.pMethods = file.real()->pMethods != nullptr ? &kMethods : nullptr;
  return code;
}

}  // namespace

FaultyDisk::FaultyDisk() : real_(sqlite3_vfs_find(nullptr)), vfs_(*real_) {
  vfs_.zName = "faulty";
  vfs_.szOsFile = static_cast<int>(sizeof(File)) + real_->szOsFile;
  vfs_.pAppData = this;
  vfs_.xOpen = open;
  sqlite3_vfs_register(&vfs_, 1);
}

FaultyDisk::~FaultyDisk() {
  sqlite3_vfs_unregister(&vfs_);
  sqlite3_vfs_register(real_, 1);
}

}  // namespace neap::journal::testing
