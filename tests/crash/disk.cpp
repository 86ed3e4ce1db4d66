#include "tests/crash/disk.h"

#include <fcntl.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdarg>
#include <filesystem>
#include <fstream>
#include <iterator>

namespace neap::crash {

// What the calls below need of the disk. Each takes the lock, so that an operation and its note are
// one.
struct Disk::Calls {
  Disk& disk = Disk::here();
  std::lock_guard<std::recursive_mutex> lock{disk.mutex_};

  // The name within the watched folder; none for what is not watched.
  std::optional<std::string> watched(const char* path) const {
    if (!disk.on_) return std::nullopt;
    const std::string text = path;
    if (!text.starts_with(disk.folder_ + "/") || text.ends_with("-shm")) return std::nullopt;
    return text.substr(disk.folder_.size() + 1);
  }
  bool is_folder(const char* path) const {
    std::string text = path;
    while (text.ends_with("/")) text.pop_back();
    return disk.on_ && text == disk.folder_;
  }
  std::optional<int> file_named(const std::string& name) const {
    for (const auto& [known, file] : disk.names_)
      if (known == name) return file;
    return std::nullopt;
  }
  std::optional<int> file_of(int fd) const {
    for (const auto& [open, file] : disk.open_)
      if (open == fd) return file;
    return std::nullopt;
  }
  void forget_name(const std::string& name) {
    std::erase_if(disk.names_, [&name](const auto& row) { return row.first == name; });
  }
  Op& note(Op::Kind kind, int file) {
    Op op;
    op.kind = kind;
    op.file = file;
    op.tick = disk.tick_();
    disk.ops_.push_back(std::move(op));
    return disk.ops_.back();
  }
  // The fault that this call meets, if it does.
  const DiskFault* fails(DiskFault::Call call) {
    if (!disk.fault_ || disk.fault_->call != call) return nullptr;
    ++disk.calls_;
    const bool now = disk.calls_ == disk.fault_->nth ||
                     (disk.fault_->for_ever && disk.calls_ > disk.fault_->nth);
    if (!now) return nullptr;
    disk.fault_met_ = true;
    errno = disk.fault_->error;
    return &*disk.fault_;
  }

  int open(const char* path, int flags, unsigned mode) {
    const auto name = watched(path);
    const auto known = name ? file_named(*name) : std::nullopt;
    const bool changes = (flags & (O_WRONLY | O_RDWR | O_CREAT)) != 0;
    if (name && changes && fails(DiskFault::Call::open) != nullptr) return -1;
    const auto fd = static_cast<int>(::syscall(SYS_openat, AT_FDCWD, path, flags, mode));
    if (fd < 0) return fd;
    if (is_folder(path)) disk.open_folders_.push_back(fd);
    if (!name) return fd;
    int file = known.value_or(0);
    if (!known) {
      file = disk.files_++;
      disk.names_.emplace_back(*name, file);
      note(Op::Kind::create, file).name = *name;
    } else if ((flags & O_TRUNC) != 0) {
      note(Op::Kind::resize, file);
    }
    disk.open_.emplace_back(fd, file);
    return fd;
  }

  ssize_t write(int fd, const void* data, std::size_t size, std::optional<off_t> at) {
    const auto file = file_of(fd);
    const auto put = [&](std::size_t bytes) {
      return at ? ::syscall(SYS_pwrite64, fd, data, bytes, *at)
                : ::syscall(SYS_write, fd, data, bytes);
    };
    if (!file) return put(size);
    if (!at) at = static_cast<off_t>(::syscall(SYS_lseek, fd, 0, SEEK_CUR));
    const DiskFault* fault = fails(DiskFault::Call::write);
    // A full disk takes what there is still room for.
    if (fault != nullptr && (fault->error != ENOSPC || size < 2)) return -1;
    if (fault != nullptr) size /= 2;
    const ssize_t done = ::syscall(SYS_pwrite64, fd, data, size, *at);
    if (done <= 0) return done;
    ::syscall(SYS_lseek, fd, *at + done, SEEK_SET);
    Op& op = note(Op::Kind::write, *file);
    op.at = *at;
    op.bytes.assign(static_cast<const char*>(data), static_cast<std::size_t>(done));
    return done;
  }

  int resize(int fd, off_t size) {
    const auto file = file_of(fd);
    if (file && fails(DiskFault::Call::resize) != nullptr) return -1;
    const auto done = static_cast<int>(::syscall(SYS_ftruncate, fd, size));
    if (file && done == 0) note(Op::Kind::resize, *file).at = size;
    return done;
  }

  int allocate(int fd, off_t size) {
    if (file_of(fd) && fails(DiskFault::Call::write) != nullptr) return errno;
    return resize(fd, size) == 0 ? 0 : errno;
  }

  int sync(int fd) {
    if (std::ranges::find(disk.open_folders_, fd) != disk.open_folders_.end()) {
      if (fails(DiskFault::Call::sync) != nullptr) return -1;
      note(Op::Kind::sync_folder, 0);
      return 0;
    }
    const auto file = file_of(fd);
    if (!file) return 0;
    const DiskFault* fault = fails(DiskFault::Call::sync);
    if (fault == nullptr) {
      note(Op::Kind::sync, *file);
      return 0;
    }
    if (fault->loses_pages) note(Op::Kind::lost_sync, *file);
    errno = fault->error;
    return -1;
  }

  int rename(const char* from, const char* to) {
    const auto name = watched(from);
    const auto other = watched(to);
    if (name && fails(DiskFault::Call::rename) != nullptr) return -1;
    const auto done = static_cast<int>(::syscall(SYS_rename, from, to));
    if (done != 0 || !name || !other) return done;
    if (const auto file = file_named(*name)) {
      forget_name(*name);
      forget_name(*other);
      disk.names_.emplace_back(*other, *file);
      Op& op = note(Op::Kind::rename, *file);
      op.name = *name;
      op.to = *other;
    }
    return done;
  }

  int remove(const char* path) {
    const auto name = watched(path);
    const auto done = static_cast<int>(::syscall(SYS_unlink, path));
    if (done != 0 || !name) return done;
    if (const auto file = file_named(*name)) note(Op::Kind::remove, *file).name = *name;
    forget_name(*name);
    return done;
  }

  int close(int fd) {
    std::erase_if(disk.open_, [fd](const auto& row) { return row.first == fd; });
    std::erase(disk.open_folders_, fd);
    return static_cast<int>(::syscall(SYS_close, fd));
  }
};

Disk& Disk::here() {
  static Disk disk;
  return disk;
}

void Disk::watch(const std::string& folder, std::function<std::int64_t()> tick) {
  const std::lock_guard lock(mutex_);
  folder_ = folder;
  tick_ = std::move(tick);
  before_.clear();
  ops_.clear();
  names_.clear();
  open_.clear();
  open_folders_.clear();
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    const std::string name = entry.path().filename().string();
    if (!entry.is_regular_file() || name.ends_with("-shm")) continue;
    std::ifstream file(entry.path(), std::ios::binary);
    names_.emplace_back(name, static_cast<int>(before_.size()));
    before_.push_back({name, {std::istreambuf_iterator<char>(file), {}}});
  }
  files_ = static_cast<int>(before_.size());
  on_ = true;
}

void Disk::stop() {
  const std::lock_guard lock(mutex_);
  on_ = false;
  fault_.reset();
}

void Disk::arm(const std::optional<DiskFault>& fault) {
  const std::lock_guard lock(mutex_);
  fault_ = fault;
  calls_ = 0;
  fault_met_ = false;
}

void Disk::pin(int output, int level) {
  Calls calls;
  if (!on_) return;
  calls.note(Op::Kind::pin, output).at = level;
}

bool Disk::fault_met() const {
  const std::lock_guard lock(mutex_);
  return fault_met_;
}

std::size_t Disk::size() const {
  const std::lock_guard lock(mutex_);
  return ops_.size();
}

}  // namespace neap::crash

// In place of the C library's, for the whole program and the libraries that it loads.
extern "C" {

using neap::crash::Disk;

int open(const char* path, int flags, ...) {
  va_list rest;
  va_start(rest, flags);
  const unsigned mode = (flags & O_CREAT) != 0 ? va_arg(rest, unsigned) : 0;
  va_end(rest);
  return Disk::Calls{}.open(path, flags, mode);
}
int open64(const char* path, int flags, ...) __attribute__((alias("open")));
int close(int fd) { return Disk::Calls{}.close(fd); }
ssize_t write(int fd, const void* data, size_t size) {
  return Disk::Calls{}.write(fd, data, size, {});
}
ssize_t pwrite(int fd, const void* data, size_t size, off_t at) {
  return Disk::Calls{}.write(fd, data, size, at);
}
ssize_t pwrite64(int fd, const void* data, size_t size, off64_t at) {
  return Disk::Calls{}.write(fd, data, size, at);
}
int ftruncate(int fd, off_t size) noexcept { return Disk::Calls{}.resize(fd, size); }
int ftruncate64(int fd, off64_t size) noexcept { return Disk::Calls{}.resize(fd, size); }
int posix_fallocate(int fd, off_t, off_t size) { return Disk::Calls{}.allocate(fd, size); }
int fsync(int fd) { return Disk::Calls{}.sync(fd); }
int fdatasync(int fd) { return Disk::Calls{}.sync(fd); }
int rename(const char* from, const char* to) noexcept { return Disk::Calls{}.rename(from, to); }
int unlink(const char* path) noexcept { return Disk::Calls{}.remove(path); }
}
