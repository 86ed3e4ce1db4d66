#include "daemon/journal/reserve.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include <filesystem>

namespace neap::journal {
namespace {

constexpr std::int64_t kSpareAtFirst = 2;
constexpr std::int64_t kSpareAgain = 4;

bool has_size(const std::string& path, std::int64_t bytes) {
  struct stat found {};
  return ::stat(path.c_str(), &found) == 0 && found.st_size >= bytes;
}

}  // namespace

bool Reserve::has_to_spare() const {
  struct statvfs disk {};
  const std::string folder = std::filesystem::path(path_).parent_path().string();
  if (::statvfs(folder.empty() ? "." : folder.c_str(), &disk) != 0) return false;
  const auto free =
      static_cast<std::int64_t>(disk.f_bavail) * static_cast<std::int64_t>(disk.f_frsize);
  return free >= bytes_ * (given_up_ ? kSpareAgain : kSpareAtFirst);
}

bool Reserve::hold() {
  if (bytes_ == 0 || held_) return true;
  held_ = has_size(path_, bytes_);
  if (!held_ && !has_to_spare()) {
    given_up_ = true;
  } else if (!held_) {
    const int fd = ::open(path_.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC, 0640);
    held_ = fd >= 0 && ::posix_fallocate(fd, 0, bytes_) == 0;
    if (fd >= 0) ::close(fd);
    if (!held_) ::unlink(path_.c_str());
  }
  if (held_) given_up_ = false;
  return !given_up_;
}

void Reserve::give_up() {
  if (bytes_ == 0) return;
  ::unlink(path_.c_str());
  held_ = false;
  given_up_ = true;
}

}  // namespace neap::journal
