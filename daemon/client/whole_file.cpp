#include "daemon/client/whole_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>

#include "daemon/client/descriptor.h"

namespace neap::client {
namespace {

bool put_all(const Descriptor& fd, std::string_view text) {
  while (!text.empty()) {
    const ssize_t put = ::write(fd.number(), text.data(), text.size());
    if (put < 0 && errno == EINTR) continue;
    if (put <= 0) return false;
    text.remove_prefix(static_cast<std::size_t>(put));
  }
  return true;
}

}  // namespace

std::string write_whole_file(const std::string& path, std::string_view text, mode_t mode) {
  const std::filesystem::path target(path);
  const std::string beside = (target.parent_path() / ("." + target.filename().string() + "." +
                                                      std::to_string(::getpid()) + ".new"))
                                 .string();
  Descriptor fd(::open(beside.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, mode));
  if (!fd) return std::strerror(errno);
  ::fchmod(fd.number(), mode);  // whatever the umask: the reader may be another user
  const bool done =
      put_all(fd, text) && ::fsync(fd.number()) == 0 && ::rename(beside.c_str(), path.c_str()) == 0;
  if (done) return {};
  const std::string trouble = std::strerror(errno);
  ::unlink(beside.c_str());
  return trouble;
}

}  // namespace neap::client
