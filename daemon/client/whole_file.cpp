#include "daemon/client/whole_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
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

std::optional<std::string> read_whole_file(const std::string& path, std::size_t most,
                                           std::string& trouble) {
  const Descriptor fd(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
  struct stat status {};
  if (!fd || ::fstat(fd.number(), &status) != 0) {
    trouble = std::strerror(errno);
    return std::nullopt;
  }
  trouble = "is no regular file of at most " + std::to_string(most) + " bytes";
  if (!S_ISREG(status.st_mode)) return std::nullopt;
  std::string text;
  std::array<char, 65536> chunk{};
  while (text.size() <= most) {
    const ssize_t got = ::read(fd.number(), chunk.data(), chunk.size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) trouble = std::strerror(errno);
    if (got < 0) return std::nullopt;
    if (got == 0) return text;
    text.append(chunk.data(), static_cast<std::size_t>(got));
  }
  return std::nullopt;
}

}  // namespace neap::client
